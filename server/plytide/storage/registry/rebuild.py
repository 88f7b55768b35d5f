"""A registry made anew from the clinics' files, after it was lost and there is no backup of it.

The files know their clinic and its staff with their passwords. They know no phone's token, no session and no second
factor: phones join again with a code, staff set their second factor up again.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from plytide.storage import clinics, staff
from plytide.storage.clinic_migrations import clinic_migrations
from plytide.storage.files.lock import alone
from plytide.storage.registry import lost
from plytide.storage.registry.registry import LoginTaken, Registry, prepare_registry, registry_path
from plytide.storage.sqlite import DatabaseError, connect, prepare


class StillThere(Exception):
    """storage: the registry is whole, and is not made anew."""


def rebuild(data_dir: Path, now: datetime) -> list[str]:
    """What was found again and what was not, line by line. Raises StillThere, and InUse while a server runs."""
    with alone(data_dir):
        if lost.fault(data_dir) is None:
            raise StillThere(f"registry.db in {data_dir} is there and can be read. Nothing was changed.")
        path = registry_path(data_dir)
        for old in sorted(data_dir.glob("registry.db*")):
            if old.suffix != ".lost":
                old.replace(old.with_name(f"{old.name}.{now:%Y%m%dT%H%M%S}.lost"))
        prepare_registry(data_dir)
        registry = Registry(data_dir)
        try:
            lines = [line for name in lost.files_there(data_dir) for line in _take_in(data_dir, registry, name, now)]
        except BaseException:
            registry.close()
            path.unlink(missing_ok=True)  # else half a registry would look whole
            raise
        registry.close()
        return lines


def _take_in(data_dir: Path, registry: Registry, name: str, now: datetime) -> list[str]:
    path = clinics.clinic_path(data_dir, name)
    try:
        db = connect(path)
    except (DatabaseError, OSError) as error:
        return [f"{name}: left out, it can't be opened: {error}"]
    try:
        if not db.table("clinic").exists() or not db.table("staff").exists():
            return [f"{name}: left out, it holds no clinic"]
        prepare(path, clinic_migrations)
        row = clinics.clinic_row(db)
        if registry.clinic_file(row["id"]) is not None:
            return [f"{name}: left out, it is a second file of the same clinic as {registry.clinic_file(row['id'])}"]
        registry.add_clinic(row["id"], row["name"], name, now)
        lines = [f"{name}: {row['name']} is known again"]
        for member in staff.present(db):
            try:
                registry.add_login(member["login"], row["id"], member["id"])
            except LoginTaken:
                lines.append(f"{name}: the sign-in name {member['login']} is another clinic's now: add them again")
        return lines
    except (DatabaseError, ValueError, TypeError) as error:
        return [f"{name}: left out, it can't be read: {error}"]
    finally:
        db.close()
