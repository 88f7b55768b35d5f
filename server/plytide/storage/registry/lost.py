"""A registry that was lost while the clinics' files are still there: said, never replaced by an empty one."""

from __future__ import annotations

from pathlib import Path

from plytide.storage.registry.registry import Registry, registry_path
from plytide.storage.sqlite import DatabaseError, NoRoom, Unreadable, connect


class RegistryLost(Exception):
    """storage: a data folder whose registry is gone; the message says what is there and what to do."""


def files_there(data_dir: Path) -> list[str]:
    """The names of the clinic files that lie in a data folder."""
    return sorted(path.name for path in (data_dir / "clinics").glob("*.db"))


def fault(data_dir: Path) -> str | None:
    """What is wrong with the registry, in words; None: it is there, or nothing is yet. Reads only."""
    path = registry_path(data_dir)
    there = files_there(data_dir)
    if not path.exists():
        why = "is missing"
        if not there:
            return None
    elif path.stat().st_size == 0:
        why = "is empty"
    else:
        try:
            db = connect(path)
            try:
                if db.table("clinic").exists():
                    return None
                why = "lacks its tables"
            finally:
                db.close()
        except (Unreadable, NoRoom):
            raise  # mostly a matter of the key, or of the disk, and its words say so
        except DatabaseError as error:
            why = f"can't be read ({error})"
    clinics = f"These clinics' files are there: {', '.join(there)}." if there else "No clinic's file is there."
    return (
        f"registry.db in {data_dir} {why}. {clinics} Put it back from a backup with plytide restore, or make it anew"
        f" from the clinics' files: plytide rebuild --data {data_dir}"
    )


def refuse_lost(data_dir: Path) -> None:
    """Raises RegistryLost rather than letting an empty registry stand in for one that knew clinics."""
    if words := fault(data_dir):
        raise RegistryLost(words)


def orphans(data_dir: Path, registry: Registry) -> list[str]:
    """Clinic files the registry does not know. Reads only."""
    known = {file for _, file in registry.clinic_files()}
    return [name for name in files_there(data_dir) if name not in known]
