"""Clinic files: making one, opening one, and the clinic's own row."""

from __future__ import annotations

import json
import logging
import re
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from plytide.storage.clinic_migrations import clinic_migrations
from plytide.storage.ids import new_id
from plytide.storage.registry.lost import refuse_lost
from plytide.storage.registry.registry import Registry, prepare_registry
from plytide.storage.sqlite import Borrowed, DatabaseError, borrow, connect, connect_with, prepare, write

EMERGENCY = "112"  # until the clinic says another

log = logging.getLogger("plytide")


class Unavailable(OSError):
    """storage: a clinic the registry knows, whose file is not there or is not its own. Nothing is made in its place."""

    def __init__(self, clinic_id: str, file: str, why: str) -> None:
        super().__init__(f"{file}: {why}")
        self.clinic_id, self.why = clinic_id, why


def clinic_path(data_dir: Path, file: str) -> Path:
    return data_dir / "clinics" / file


def prepare_all(data_dir: Path) -> None:
    """Bring the registry and every clinic file to the newest shape. Run before any worker starts.

    A clinic whose file is lost or damaged stays as it is, and unavailable; the others are served. Raises RegistryLost.
    """
    refuse_lost(data_dir)
    prepare_registry(data_dir)
    registry = Registry(data_dir)
    try:
        for clinic_id, file in registry.clinic_files():
            try:
                _own(clinic_path(data_dir, file), clinic_id).close()  # never into a file that is not the clinic's
                prepare(clinic_path(data_dir, file), clinic_migrations)
            except (Unavailable, DatabaseError) as error:
                log.error("clinic unavailable: %s: %s", type(error).__name__, error)
    finally:
        registry.close()


@cache
def tables() -> frozenset[str]:
    """Every table a clinic's file has."""
    db = connect_with(Path(":memory:"), None)
    try:
        clinic_migrations.apply(db)
        return frozenset(row[0] for row in db.conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'"))
    finally:
        db.close()


def whose(db: Database, clinic_id: str) -> str | None:
    """Why a file is not that of this clinic, in words; None: it is. Reads only."""
    if not db.table("clinic").exists():
        empty = not db.conn.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone()
        return "its file is empty" if empty else "its file lacks the table clinic"
    ids = [row[0] for row in db.conn.execute("SELECT id FROM clinic")]
    if ids != [clinic_id]:
        return "its file is another clinic's" if ids else "its file holds no clinic"
    return None


def lacking(db: Database) -> str | None:
    """Which tables a file of today's shape lacks, in words; None: it has all. Reads only."""
    there = {row[0] for row in db.conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    missing = sorted(tables() - there)
    return f"its file lacks the table{'s' if len(missing) > 1 else ''} {', '.join(missing)}" if missing else None


def _own(path: Path, clinic_id: str) -> Database:
    """A connection to a clinic's own file, of whatever shape. Raises Unavailable."""
    try:
        db = connect(path)
    except FileNotFoundError:
        raise Unavailable(clinic_id, path.name, "its file is missing") from None
    try:
        if why := whose(db, clinic_id):
            raise Unavailable(clinic_id, path.name, why)
    except BaseException:
        db.close()
        raise
    return db


def lend(data_dir: Path, registry: Registry, clinic_id: str) -> Borrowed:
    """This thread's connection to a clinic's file, looked at when it is opened. Give it back. Raises Unavailable."""
    path = path_of(data_dir, registry, clinic_id)

    def look(db: Database) -> None:
        if why := whose(db, clinic_id) or lacking(db):
            raise Unavailable(clinic_id, path.name, why)

    try:
        return borrow(path, look)
    except FileNotFoundError:
        raise Unavailable(clinic_id, path.name, "its file is missing") from None


def add_clinic(data_dir: Path, name: str, settings: dict[str, Any], now: datetime) -> str:
    """A new clinic with a database file of its own; its id. Raises RegistryLost."""
    refuse_lost(data_dir)
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
                "INSERT INTO clinic (id, name, settings, epoch, authorship) VALUES (?, ?, ?, ?, randomblob(32))",
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
    """One connection to a clinic's file. Raises Unavailable when the file is gone, or is not the clinic's."""
    db = _own(path_of(data_dir, registry, clinic_id), clinic_id)
    if why := lacking(db):
        db.close()
        raise Unavailable(clinic_id, path_of(data_dir, registry, clinic_id).name, why)
    return db


def clinic_row(db: Database) -> dict[str, Any]:
    """The clinic's id, name, settings, epoch and last sequence number. Reads only."""
    row = db.conn.execute("SELECT id, name, settings, epoch, seq FROM clinic").fetchone()
    return {"id": row[0], "name": row[1], "settings": json.loads(row[2]), "epoch": row[3], "seq": row[4]}


def contact(settings: dict[str, Any]) -> dict[str, Any]:
    """How the clinic is reached, and whom to call when it is closed, from its settings."""
    return {
        "phone": settings.get("phone"),
        "hours": settings.get("hours", []),
        "zone": settings.get("zone"),
        "closed_on": settings.get("closed_on", []),
        "out_of_hours_phone": settings.get("out_of_hours_phone"),
        "emergency_number": settings.get("emergency_number", EMERGENCY),
    }


def authorship_key(db: Database) -> bytes:
    """With what this clinic's server proves who wrote a check-in. Reads only."""
    return bytes(db.conn.execute("SELECT authorship FROM clinic").fetchone()[0])


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
