"""How the files are: can they be read, is there room, how much waits. Counts only, nothing about any person."""

from __future__ import annotations

import shutil
from pathlib import Path

from plytide.store.clinics import open_clinic
from plytide.store.registry import Registry
from plytide.store.sqlite import DatabaseError


def faults(data_dir: Path, least_free_bytes: int) -> list[str]:
    """Why this server can't take calls, in words without names; empty when it can. Reads only."""
    free = shutil.disk_usage(data_dir).free
    wrong = [] if free >= least_free_bytes else [f"the disk has {free // 1_000_000} MB left"]
    try:
        registry = Registry(data_dir)
    except (DatabaseError, FileNotFoundError):
        return [*wrong, "the registry can't be opened"]
    try:
        unreadable = 0
        for clinic_id, _ in registry.clinic_files():
            try:
                db = open_clinic(data_dir, registry, clinic_id)
            except (DatabaseError, FileNotFoundError):
                unreadable += 1
                continue
            try:
                db.conn.execute("SELECT seq FROM clinic").fetchone()
            except DatabaseError:
                unreadable += 1
            finally:
                db.close()
        return [*wrong, f"{unreadable} clinic files can't be read"] if unreadable else wrong
    except DatabaseError:
        return [*wrong, "the registry can't be read"]
    finally:
        registry.close()


def figures(data_dir: Path) -> list[tuple[str, str, float]]:
    """(name, words, value) of what is worth watching. Reads only."""
    disk = shutil.disk_usage(data_dir)
    files = [*data_dir.glob("*.db"), *data_dir.glob("clinics/*.db")]
    logs = [path for file in files if (path := file.with_name(file.name + "-wal")).exists()]
    counts = {"clinics": 0, "limbs_waiting": 0, "mail_waiting": 0, "audit_lines": 0}
    registry = Registry(data_dir)
    try:
        for clinic_id, _ in registry.clinic_files():
            counts["clinics"] += 1
            db = open_clinic(data_dir, registry, clinic_id)
            try:
                for name, sql in (
                    ("limbs_waiting", "SELECT count(*) FROM stale"),
                    ("mail_waiting", "SELECT count(*) FROM mail WHERE sent_at IS NULL"),
                    ("audit_lines", "SELECT coalesce(max(n), 0) FROM audit"),
                ):
                    counts[name] += db.conn.execute(sql).fetchone()[0]
            finally:
                db.close()
    finally:
        registry.close()
    return [
        ("plytide_disk_free_bytes", "Free on the data's disk", disk.free),
        ("plytide_database_bytes", "All database files", sum(file.stat().st_size for file in files)),
        ("plytide_wal_bytes", "All write-ahead logs", sum(file.stat().st_size for file in logs)),
        ("plytide_clinics", "Clinics on this server", counts["clinics"]),
        ("plytide_limbs_waiting", "Limbs that wait for an assessment", counts["limbs_waiting"]),
        ("plytide_mail_waiting", "Mail not yet sent", counts["mail_waiting"]),
        ("plytide_audit_lines", "Lines in all audit chains", counts["audit_lines"]),
    ]
