"""The list of people who were erased: ids only, in a file that no restore replaces.

It is written before the rows are deleted, and gone through again at every start and after every restore: an
erasure cut short is finished, and a backup from before it brings nobody back.
"""

from __future__ import annotations

import json
import logging
import os
from datetime import datetime
from pathlib import Path

from plytide.storage import audit, caseload, person_rows
from plytide.storage import person as people
from plytide.storage.clinics import Unavailable, open_clinic
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import DatabaseError, write

log = logging.getLogger("plytide")

LIST = "erased.jsonl"


def listed(folder: Path) -> set[tuple[str, str]]:
    """(clinic id, person id) of everybody on a folder's list. Reads only."""
    path = folder / LIST
    if not path.exists():
        return set()
    found = set()
    for line in path.read_text().splitlines():
        try:
            entry = json.loads(line)
            found.add((entry["clinic"], entry["person"]))
        except (ValueError, KeyError, TypeError):
            continue  # the half line of a power cut: its erasure had not begun
    return found


def put_down(data_dir: Path, clinic_id: str, person_id: str, now: datetime) -> None:
    """On the disk when it returns."""
    with (data_dir / LIST).open("a") as file:
        file.write(json.dumps({"clinic": clinic_id, "person": person_id, "at": now.isoformat()}) + "\n")
        file.flush()
        os.fsync(file.fileno())


def take_over(data_dir: Path, other: Path, now: datetime) -> None:
    """Join another folder's list to this one's, as a restore does with that of the backup."""
    for clinic_id, person_id in sorted(listed(other) - listed(data_dir)):
        put_down(data_dir, clinic_id, person_id, now)


def erase(data_dir: Path, registry: Registry, clinic_id: str, person_id: str, by: str, now: datetime) -> dict[str, int]:
    """Erase a person from their clinic's file and from the registry; how many rows of each table."""
    if (clinic_id, person_id) not in listed(data_dir):
        put_down(data_dir, clinic_id, person_id, now)
    db = open_clinic(data_dir, registry, clinic_id)
    try:
        with write(db):
            gone = person_rows.erase(db, person_id)
            caseload.drop_all_parts(db)
            audit.record(db, now, by, "person.erase", f"person:{person_id}")
        person_rows.wipe(db)
    finally:
        db.close()
    for device_id in gone["device_ids"]:
        registry.shut_out(clinic_id, device_id, now)
    registry.drop_codes(clinic_id, gone["enrolment_ids"])
    rows: dict[str, int] = gone["rows"]
    return rows


def go_through(data_dir: Path, now: datetime) -> int:
    """Erase whoever is on the list and is here again; how many. Run with the server stopped, or before it starts."""
    registry = Registry(data_dir)
    again = 0
    try:
        here = {clinic_id for clinic_id, _ in registry.clinic_files()}
        for clinic_id, person_id in sorted(listed(data_dir)):
            if clinic_id not in here:
                continue
            try:
                db = open_clinic(data_dir, registry, clinic_id)
            except (Unavailable, DatabaseError) as error:  # nobody is served from it either
                log.error("erasures: clinic unavailable: %s", error)
                continue
            try:
                back = people.one(db, person_id) is not None
            finally:
                db.close()
            if back:
                erase(data_dir, registry, clinic_id, person_id, "operator", now)
                again += 1
    finally:
        registry.close()
    return again
