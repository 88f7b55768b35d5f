"""Clinic files: making one, opening one, and the clinic's own row."""

from __future__ import annotations

import json
import re
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from plytide.store.clinic_migrations import clinic_migrations
from plytide.store.ids import new_id
from plytide.store.registry import Registry, prepare_registry
from plytide.store.sqlite import connect, prepare, write


def clinic_path(data_dir: Path, file: str) -> Path:
    return data_dir / "clinics" / file


def prepare_all(data_dir: Path) -> None:
    """Bring the registry and every clinic file to the newest shape. Run before any worker starts."""
    prepare_registry(data_dir)
    registry = Registry(data_dir)
    try:
        for _, file in registry.clinic_files():
            prepare(clinic_path(data_dir, file), clinic_migrations)
    finally:
        registry.close()


def add_clinic(data_dir: Path, name: str, settings: dict[str, Any], now: datetime) -> str:
    """A new clinic with a database file of its own; its id."""
    prepare_registry(data_dir)
    clinic_id = new_id()
    slug = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or "clinic"
    file = f"{slug}-{clinic_id[-6:]}.db"
    path = clinic_path(data_dir, file)
    prepare(path, clinic_migrations)
    db = connect(path)
    try:
        with write(db):
            db.conn.execute(
                "INSERT INTO clinic (id, name, settings, epoch) VALUES (?, ?, ?, ?)",
                (clinic_id, name, json.dumps(settings), new_id()),
            )
    finally:
        db.close()
    registry = Registry(data_dir)
    try:
        registry.add_clinic(clinic_id, name, file, now)
    finally:
        registry.close()
    return clinic_id


def path_of(data_dir: Path, registry: Registry, clinic_id: str) -> Path:
    """Where a clinic's file lies. Raises FileNotFoundError for a clinic the registry does not know."""
    file = registry.clinic_file(clinic_id)
    if file is None:
        raise FileNotFoundError(clinic_id)
    return clinic_path(data_dir, file)


def open_clinic(data_dir: Path, registry: Registry, clinic_id: str) -> Database:
    """One connection to a clinic's file. Raises FileNotFoundError when the file is gone."""
    return connect(path_of(data_dir, registry, clinic_id))


def clinic_row(db: Database) -> dict[str, Any]:
    """The clinic's id, name, settings, epoch and last sequence number. Reads only."""
    row = db.conn.execute("SELECT id, name, settings, epoch, seq FROM clinic").fetchone()
    return {"id": row[0], "name": row[1], "settings": json.loads(row[2]), "epoch": row[3], "seq": row[4]}


def feed(db: Database) -> tuple[str, int]:
    """The feed's epoch and last sequence number. Reads only."""
    row = db.conn.execute("SELECT epoch, seq FROM clinic").fetchone()
    return row[0], row[1]


def save_settings(db: Database, settings: dict[str, Any]) -> None:
    db.conn.execute("UPDATE clinic SET settings = ?", (json.dumps(settings),))


def take_seqs(db: Database, count: int) -> int:
    """The first of `count` new sequence numbers. Only inside a write transaction."""
    row = db.conn.execute("UPDATE clinic SET seq = seq + ? RETURNING seq", (count,)).fetchone()
    return int(row[0]) - count + 1


def new_epoch(db: Database) -> str:
    """A new epoch: phones that see it offer again all they hold. Only inside a write transaction."""
    epoch = new_id()
    db.conn.execute("UPDATE clinic SET epoch = ?", (epoch,))
    return epoch
