"""How the files are: can they be read, is there room, how much waits. Counts only, nothing about any person."""

from __future__ import annotations

import shutil
from pathlib import Path

from plytide.settings import Settings
from plytide.storage.clinics import Unavailable, open_clinic
from plytide.storage.files import room
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import DatabaseError


def faults(data_dir: Path, least_free_bytes: int) -> list[str]:
    """Why this server can't take calls, in words without names; empty when it can. Reads only."""
    free = shutil.disk_usage(data_dir).free
    wrong = [] if free >= least_free_bytes else [f"the disk has {free // 1_000_000} MB left"]
    try:
        registry = Registry(data_dir)
    except (DatabaseError, FileNotFoundError):
        return [*wrong, "the registry can't be opened"]
    try:
        for clinic_id, _ in registry.clinic_files():
            if why := unavailable(data_dir, registry, clinic_id):
                wrong.append(f"clinic …{clinic_id[-6:]}: {why}")  # as its file's name ends: no name of a clinic here
        return wrong
    except DatabaseError:
        return [*wrong, "the registry can't be read"]
    finally:
        registry.close()


def unavailable(data_dir: Path, registry: Registry, clinic_id: str) -> str | None:
    """Why a clinic can't be served, in words; None when it can. Reads only."""
    try:
        db = open_clinic(data_dir, registry, clinic_id)
    except Unavailable as error:
        return error.why
    except DatabaseError:
        return "its file can't be read"
    try:
        db.conn.execute("SELECT seq FROM clinic").fetchone()
    except DatabaseError:
        return "its file can't be read"
    finally:
        db.close()
    return None


def warnings(data_dir: Path, settings: Settings) -> list[str]:
    """What will stop something soon, or did, while the server still takes calls; no names. Reads only."""
    full = [
        f"clinic …{path.stem[-6:]}: {warning}"
        for path in sorted(data_dir.glob("clinics/*.db"))
        for warning in room.of_clinic(path, settings.clinic_bytes)
    ]
    return room.of_disk(data_dir, settings.least_free_bytes) + full


def figures(data_dir: Path, settings: Settings) -> list[tuple[str, str, float]]:
    """(name, words, value) of what is worth watching. Reads only."""
    disk = shutil.disk_usage(data_dir)
    files = [*data_dir.glob("*.db"), *data_dir.glob("clinics/*.db")]
    logs = [file.with_name(file.name + "-wal") for file in files]
    counts = {"clinics": 0, "limbs_waiting": 0, "mail_waiting": 0, "audit_lines": 0}
    counts |= {"mail_failing": 0, "reminders_failing": 0, "limbs_failing": 0, "clinics_unavailable": 0}
    registry = Registry(data_dir)
    try:
        for clinic_id, _ in registry.clinic_files():
            counts["clinics"] += 1
            try:
                db = open_clinic(data_dir, registry, clinic_id)
            except (Unavailable, DatabaseError):
                counts["clinics_unavailable"] += 1
                continue
            try:
                for name, sql in (
                    ("limbs_waiting", "SELECT count(*) FROM stale"),
                    ("mail_waiting", "SELECT count(*) FROM mail WHERE sent_at IS NULL"),
                    ("audit_lines", "SELECT coalesce(max(n), 0) FROM audit"),
                    ("mail_failing", "SELECT count(*) FROM set_aside WHERE what = 'mail'"),
                    ("reminders_failing", "SELECT count(*) FROM set_aside WHERE what = 'reminder'"),
                    ("limbs_failing", "SELECT count(*) FROM set_aside WHERE what = 'limb'"),
                ):
                    counts[name] += db.conn.execute(sql).fetchone()[0]
            finally:
                db.close()
    finally:
        registry.close()
    return [
        ("plytide_disk_free_bytes", "Free on the data's disk", disk.free),
        ("plytide_room_warnings", "What runs short: the disk, or clinics' shares", len(warnings(data_dir, settings))),
        ("plytide_database_bytes", "All database files", sum(map(room.size, files))),
        ("plytide_wal_bytes", "All write-ahead logs", sum(map(room.size, logs))),
        ("plytide_clinics", "Clinics on this server", counts["clinics"]),
        ("plytide_clinics_unavailable", "Clinics whose file is lost or damaged", counts["clinics_unavailable"]),
        ("plytide_limbs_waiting", "Limbs that wait for an assessment", counts["limbs_waiting"]),
        ("plytide_mail_waiting", "Mail not yet sent", counts["mail_waiting"]),
        ("plytide_mail_failing", "Addresses whose mail failed and is tried again", counts["mail_failing"]),
        ("plytide_reminders_failing", "Phones whose reminder failed and is tried again", counts["reminders_failing"]),
        ("plytide_limbs_failing", "Limbs that can't be assessed and are tried again", counts["limbs_failing"]),
        ("plytide_audit_lines", "Lines in all audit chains", counts["audit_lines"]),
    ]
