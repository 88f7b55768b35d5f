"""A consistent copy of all files while the server runs, and putting it back.

A backup is a folder: `manifest.json` (each file's SHA-256), `registry.db`, `clinics/*.db`. Each database is
copied by SQLite's own online backup, never by copying files. After a restore every clinic begins a new epoch,
so that phones offer again what they hold.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from plytide.settings import utc_now
from plytide.store import audit, erasures, witness
from plytide.store.clinics import clinic_path, new_epoch, open_clinic, prepare_all
from plytide.store.registry import Registry, registry_path
from plytide.store.sealed import KeyFault, is_sealed, seal, unseal
from plytide.store.sqlite import DatabaseError, connect, write

MANIFEST = "manifest.json"


class BackupFault(Exception):
    """store: a backup that can't be made, read or put back; the message says why and what to do."""


def files_of(data_dir: Path) -> list[Path]:
    """Every database of a data folder. Raises BackupFault when there is none."""
    if not registry_path(data_dir).exists():
        raise BackupFault(f"{data_dir} holds no Plytide data (no registry.db). Check --data.")
    registry = Registry(data_dir)
    try:
        return [
            registry_path(data_dir),
            *(clinic_path(data_dir, file) for _, file in registry.clinic_files()),
        ]
    finally:
        registry.close()


def sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def backup(data_dir: Path, target: Path, now: datetime, key: bytes | None = None) -> int:
    """Copy every database to the new folder `target`; how many. Safe while the server writes.

    With a key every file of the copy is sealed with it, names apart.
    """
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise BackupFault(f"{target} already holds something. Name a new folder.")
    sources = files_of(data_dir)
    witness.look_at_all(data_dir, now)
    manifest: dict[str, str] = {}
    for source in sources:
        name = source.relative_to(data_dir).as_posix()
        copy = target / name
        copy.parent.mkdir(parents=True, exist_ok=True)
        here, there = connect(source), connect(copy, create=True)
        try:
            here.conn.backup(there.conn)
            there.conn.execute("PRAGMA journal_mode=DELETE")  # one file, nothing beside it
        finally:
            here.close()
            there.close()
        manifest[name] = sha256(copy)
    if (data_dir / erasures.LIST).exists():
        shutil.copyfile(data_dir / erasures.LIST, target / erasures.LIST)
    (target / MANIFEST).write_text(
        json.dumps({"made_at": now.isoformat(), "files": manifest}, indent=1) + "\n"
    )
    if key is not None:
        seal_all(target, key)
    return len(manifest)


def seal_all(folder: Path, key: bytes) -> None:
    """Each file of a folder in place of itself, sealed."""
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        beside = path.with_name(path.name + ".sealing")
        seal(path, beside, key)
        beside.replace(path)


@contextmanager
def unsealed(target: Path, key: bytes | None) -> Iterator[Path]:
    """A backup's folder to read: itself, or an opened copy beside it that is gone afterwards. Raises BackupFault."""
    manifest = target / MANIFEST
    if not manifest.is_file() or not is_sealed(manifest):
        yield target
        return
    if key is None:
        raise BackupFault(f"{target} is sealed. Name its key with --key-file.")
    with TemporaryDirectory(dir=target.parent, prefix=".opened-") as opened:
        try:
            for path in sorted(path for path in target.rglob("*") if path.is_file()):
                place = Path(opened) / path.relative_to(target)
                place.parent.mkdir(parents=True, exist_ok=True)
                unseal(path, place, key)
        except KeyFault as fault:
            raise BackupFault(str(fault)) from fault
        yield Path(opened)


def verify(target: Path) -> dict[str, str]:
    """The files of a backup that is whole. Raises BackupFault for a missing, changed or broken one."""
    try:
        files: dict[str, str] = json.loads((target / MANIFEST).read_text())["files"]
    except (OSError, ValueError, KeyError) as error:
        raise BackupFault(
            f"{target} is not a Plytide backup: {MANIFEST} is missing or can't be read."
        ) from error
    for name, expected in files.items():
        path = target / name
        if ".." in Path(name).parts or Path(name).is_absolute() or not path.is_file():
            raise BackupFault(f"The backup lacks {name}.")
        if sha256(path) != expected:
            raise BackupFault(f"{name} in the backup is not as it was written.")
        faults = faults_of(path)
        if faults:
            raise BackupFault(f"{name} in the backup: {faults[0]}")
    return files


def restore(
    target: Path, data_dir: Path, *, force: bool = False, now: datetime | None = None, key: bytes | None = None
) -> int:
    """Put a verified backup in place of `data_dir`'s databases; how many. Stop the server first.

    Raises BackupFault when there is data already and not `force`.
    """
    with unsealed(target, key) as opened:
        return _put_back(opened, data_dir, force, now or utc_now())


def _put_back(target: Path, data_dir: Path, force: bool, now: datetime) -> int:
    files = verify(target)
    if registry_path(data_dir).exists() and not force:
        raise BackupFault(f"{data_dir} already holds data. Use --force to replace it.")
    fresh = data_dir.with_name(data_dir.name + ".restoring")
    if fresh.exists():
        shutil.rmtree(fresh)
    for name in files:
        copy = fresh / name
        copy.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(target / name, copy)
        if name != registry_path(data_dir).name:
            db = connect(copy)
            try:
                with write(db):
                    new_epoch(db)
            finally:
                db.close()
    data_dir.mkdir(parents=True, exist_ok=True)
    for old in (*data_dir.glob("*.db*"), *data_dir.glob("clinics/*.db*")):
        old.unlink()  # -wal and -shm too: they belong to the files being replaced
    for name in files:
        place = data_dir / name
        place.parent.mkdir(parents=True, exist_ok=True)
        (fresh / name).replace(place)
    shutil.rmtree(fresh)
    settle(target, data_dir, now)
    return len(files)


def settle(target: Path, data_dir: Path, now: datetime) -> None:
    """After the files are back: the registry forgets lines the copy never had; whoever was erased stays erased."""
    prepare_all(data_dir)
    registry = Registry(data_dir)
    try:
        registry.end_all_sessions()
        for clinic_id, _ in registry.clinic_files():
            db = open_clinic(data_dir, registry, clinic_id)
            try:
                witness.forget_beyond(registry, clinic_id, audit.head(db)[0])
            finally:
                db.close()
    finally:
        registry.close()
    erasures.take_over(data_dir, target, now)
    erasures.go_through(data_dir, now)


def faults_of(path: Path, witnesses: Iterable[tuple[int, bytes, str]] = ()) -> list[str]:
    """What is wrong with one database file: its pages, its references, its audit chain. Reads only.

    `witnesses` are what the registry has seen of the chain.
    """
    try:
        db = connect(path)
    except (DatabaseError, FileNotFoundError) as error:
        return [f"can't be opened: {error}"]
    try:
        said = [row[0] for row in db.conn.execute("PRAGMA integrity_check") if row[0] != "ok"]
        said += [
            f"{row[0]} row {row[1]} points to nothing in {row[2]}"
            for row in db.conn.execute("PRAGMA foreign_key_check")
        ]
        if db.table("audit").exists():
            said += audit.faults(db, witnesses)
        return said
    except DatabaseError as error:
        return [f"can't be read: {error}"]
    finally:
        db.close()


def check(data_dir: Path) -> list[str]:
    """What is wrong with a data folder, in words; empty when all is well. Reads only."""
    found = []
    seen = witnesses_of(data_dir)
    for path in files_of(data_dir):
        name = path.relative_to(data_dir).as_posix()
        faults = faults_of(path, seen.get(name, ())) if path.exists() else ["is missing"]
        found += [f"{name}: {fault}" for fault in faults]
    return found


def witnesses_of(data_dir: Path) -> dict[str, list[tuple[int, bytes, str]]]:
    """A clinic file's name → what the registry has seen of its chain. Empty for a registry that can't be read."""
    try:
        registry = Registry(data_dir)
    except (DatabaseError, FileNotFoundError):
        return {}
    try:
        return {
            clinic_path(data_dir, file).relative_to(data_dir).as_posix(): witness.seen(registry, clinic_id)
            for clinic_id, file in registry.clinic_files()
        }
    except DatabaseError:
        return {}
    finally:
        registry.close()
