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
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from plytide.settings import utc_now
from plytide.storage import audit, facts
from plytide.storage.clinics import Unavailable, clinic_path, new_epoch, open_clinic, prepare_all
from plytide.storage.files import backed_up, erasures
from plytide.storage.files.health import unavailable
from plytide.storage.files.keys import KeyFault, is_sealed, seal, unseal
from plytide.storage.files.lock import alone, on_disk, put_in_place
from plytide.storage.registry import lost, witness
from plytide.storage.registry.lost import refuse_lost
from plytide.storage.registry.registry import Registry, registry_path
from plytide.storage.sqlite import DatabaseError, NoRoom, Unreadable, connect, no_room, write

MANIFEST = "manifest.json"
RESTORING = ".restoring"  # beside the data folder, while a restore makes its files ready
REPLACING = ".replacing"  # the same, from the first file that is replaced to the last
MAKING = ".making"  # beside the target, until the copy is whole


class BackupFault(Exception):
    """store: a backup that can't be made, read or put back; the message says why and what to do."""


class PartlyMade(BackupFault):
    """store: a backup that was made of all but the clinics it names, whose files are lost or damaged."""


def refuse_half_restored(data_dir: Path) -> None:
    """Raises BackupFault for a folder that has some files of the one state and some of the other."""
    if half_restored(data_dir):
        raise BackupFault(f"A restore into {data_dir} was cut short. Run it again, with --force.")


def files_of(data_dir: Path) -> list[Path]:
    """Every database of a data folder. Raises BackupFault when there is none."""
    refuse_half_restored(data_dir)
    refuse_lost(data_dir)
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

    With a key every file of the copy is sealed with it, names apart. Raises PartlyMade when the copy is there and
    lacks a clinic whose file is lost: nobody else may go without a backup for it.
    """
    making = target.with_name(target.name + MAKING)
    try:
        if target.exists() and (not target.is_dir() or any(target.iterdir())):
            raise BackupFault(f"{target} already holds something. Name a new folder.")
        sources = files_of(data_dir)
        lost = _lost(data_dir)
        witness.look_at_all(data_dir, now)
        if making.exists():
            shutil.rmtree(making)  # of a copy that was cut short
        making.mkdir(parents=True)
        try:
            copied = _copy(data_dir, sources, making, now, key, lost)
            making.replace(target)
            on_disk(target.parent)
        except BaseException:
            shutil.rmtree(making, ignore_errors=True)
            raise
    except (Unreadable, NoRoom):
        raise
    except (OSError, DatabaseError) as error:
        raise BackupFault(f"No backup was made: {in_words(error)}. Nothing is left of it in {target}.") from error
    with suppress(OSError):  # phones then hold their photos a little longer
        backed_up.note(data_dir, copied, now)
    if lost:
        words = "; ".join(f"{name}: {why}" for name, why in lost.items())
        raise PartlyMade(f"{len(copied)} databases copied to {target}. Not copied: {words}.")
    return len(copied)


def _lost(data_dir: Path) -> dict[str, str]:
    """Clinics' files that can't be copied, named as in a backup, and why."""
    registry = Registry(data_dir)
    try:
        found = {f"clinics/{file}": unavailable(data_dir, registry, id_) for id_, file in registry.clinic_files()}
        return {name: why for name, why in found.items() if why}
    finally:
        registry.close()


def _copy(
    data_dir: Path, sources: list[Path], making: Path, now: datetime, key: bytes | None, lost: dict[str, str]
) -> list[str]:
    """The files that were copied. One that breaks while it is read joins the `lost` ones."""
    manifest: dict[str, str] = {}
    for source in sources:
        name = source.relative_to(data_dir).as_posix()
        if name in lost:
            continue
        copy = making / name
        copy.parent.mkdir(parents=True, exist_ok=True)
        try:
            _copy_one(source, copy)
        except DatabaseError as error:
            if source == registry_path(data_dir) or "malformed" not in str(error):
                raise
            lost[name] = "its file is damaged"
            copy.unlink(missing_ok=True)
            continue
        manifest[name] = sha256(copy)
        _finish(copy, key)
    if (data_dir / erasures.LIST).exists():
        shutil.copyfile(data_dir / erasures.LIST, making / erasures.LIST)
        _finish(making / erasures.LIST, key)
    list_of_all = json.dumps({"made_at": now.isoformat(), "files": manifest, "lost": sorted(lost)}, indent=1) + "\n"
    (making / MANIFEST).write_text(list_of_all)
    _finish(making / MANIFEST, key)
    return list(manifest)


def _copy_one(source: Path, copy: Path) -> None:
    here = connect(source)
    try:
        there = connect(copy, create=True)
        try:
            here.conn.backup(there.conn)
            there.conn.execute("PRAGMA journal_mode=DELETE")  # one file, nothing beside it
            # A copy takes over what is torn; put back, it would be refused, and everybody's with it.
            if there.conn.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok":
                raise DatabaseError("database disk image is malformed")
        finally:
            there.close()
    finally:
        here.close()


def _finish(path: Path, key: bytes | None) -> None:
    """A file of a copy, sealed in place of itself where there is a key, and on the disk."""
    if key is not None:
        beside = path.with_name(path.name + ".sealing")
        seal(path, beside, key)
        beside.replace(path)
    on_disk(path)


def in_words(error: Exception) -> str:
    """What the system says of a file that could not be written or read, for an operator."""
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename}: {error.strerror}" if error.filename else error.strerror
    return "the disk is full" if "full" in str(error) else str(error)


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


def _manifest(target: Path) -> tuple[str, dict[str, str], list[str]]:
    """(when it was made, files and their digests, files of clinics that were lost already). Raises BackupFault."""
    try:
        manifest = json.loads((target / MANIFEST).read_text())
        return manifest["made_at"], manifest["files"], manifest.get("lost", [])
    except (OSError, ValueError, KeyError, AttributeError, TypeError) as error:
        raise BackupFault(f"{target} is not a Plytide backup: {MANIFEST} is missing or can't be read.") from error


def verify(target: Path) -> dict[str, str]:
    """The files of a backup that is whole. Raises BackupFault for a missing, changed or broken one."""
    _, files, _ = _manifest(target)
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

    Raises BackupFault when there is data already and not `force`, and InUse while a server runs on it.
    """
    try:
        with unsealed(target, key) as opened:
            return _put_back(opened, data_dir, force, now or utc_now())
    except Unreadable:
        raise
    except (OSError, DatabaseError) as error:
        begun = half_restored(data_dir)
        left = "Some files were replaced already: run it again with --force" if begun else "Nothing was replaced"
        raise BackupFault(f"The restore did not end: {in_words(error)}. {left}.") from error


def half_restored(data_dir: Path) -> bool:
    """Whether a restore was cut short while it replaced this folder's files. Run again, it begins anew."""
    return data_dir.with_name(data_dir.name + REPLACING).exists()


def _put_back(target: Path, data_dir: Path, force: bool, now: datetime) -> int:
    files = verify(target)
    if registry_path(data_dir).exists() and not force:
        raise BackupFault(f"{data_dir} already holds data. Use --force to replace it.")
    fresh, replacing = (data_dir.with_name(data_dir.name + suffix) for suffix in (RESTORING, REPLACING))
    data_dir.mkdir(parents=True, exist_ok=True)
    with alone(data_dir):
        shutil.rmtree(fresh, ignore_errors=True)  # of a restore that was cut short
        try:
            # Whoever was erased here or in the copy is on the list before anything is replaced.
            erasures.take_over(data_dir, target, now)
            for name in files:
                copy = fresh / name
                copy.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(target / name, copy)
            settle(fresh, data_dir, now)
        except BaseException:
            shutil.rmtree(fresh, ignore_errors=True)
            raise
        shutil.rmtree(replacing, ignore_errors=True)
        fresh.replace(replacing)
        made_at, _, lost = _manifest(target)
        _swap(replacing, data_dir, list(files), lost)
        backed_up.begin_anew(data_dir, files, made_at)
        shutil.rmtree(replacing)
    return len(files)


def _swap(fresh: Path, data_dir: Path, files: list[str], lost: list[str]) -> None:
    """New files for old. The registry goes first and comes last: it never points to a clinic that is not there.

    What the backup could not copy stays as it is: somebody may be able to mend it.
    """
    registry = registry_path(data_dir).name
    for old in sorted(data_dir.glob("*.db*")) + sorted(data_dir.glob("clinics/*.db*")):
        if not any(old.relative_to(data_dir).as_posix().startswith(name) for name in lost):
            old.unlink()  # -wal and -shm too: they belong to the files being replaced
    for name in sorted(files, key=lambda name: name == registry):
        place = data_dir / name
        place.parent.mkdir(parents=True, exist_ok=True)
        put_in_place(fresh / name, place)


def settle(fresh: Path, data_dir: Path, now: datetime) -> None:
    """Before the files are put in place: nobody is signed in, each clinic has a new epoch, the registry forgets lines
    the copy never had, and whoever was erased stays erased."""
    prepare_all(fresh)
    registry = Registry(fresh)
    try:
        registry.end_all_ways_in()
        for clinic_id, _ in registry.clinic_files():
            try:
                db = open_clinic(fresh, registry, clinic_id)
            except Unavailable:
                continue  # the backup lacks it, and says so
            try:
                with write(db):
                    new_epoch(db)
                witness.forget_beyond(registry, clinic_id, audit.head(db)[0])
            finally:
                db.close()
    finally:
        registry.close()
    if (data_dir / erasures.LIST).exists():
        shutil.copyfile(data_dir / erasures.LIST, fresh / erasures.LIST)
    erasures.go_through(fresh, now)


def faults_of(path: Path, witnesses: Iterable[tuple[int, bytes, str]] = ()) -> list[str]:
    """What is wrong with one database file: its pages, its references, its audit chain. Reads only.

    `witnesses` are what the registry has seen of the chain.
    """
    try:
        db = connect(path)
    except NoRoom:
        raise
    except (DatabaseError, FileNotFoundError) as error:
        return [f"can't be opened: {error}"]
    try:
        found = [row[0] for row in db.conn.execute("PRAGMA integrity_check") if row[0] != "ok"]
        found += [
            f"{row[0]} row {row[1]} points to nothing in {row[2]}"
            for row in db.conn.execute("PRAGMA foreign_key_check")
        ]
        if db.table("audit").exists():
            broken = audit.faults(db, witnesses)
            found += broken + facts.faults(db, chain_is_whole=not broken)
        return found
    except DatabaseError as error:
        if "full" in str(error) or no_room(path):
            raise NoRoom(f"{path.name} could not be checked: the disk is full. Make room first.") from error
        return [f"can't be read: {error}"]
    finally:
        db.close()


def check(data_dir: Path) -> list[str]:
    """What is wrong with a data folder, in words; empty when all is well. Reads only."""
    refuse_half_restored(data_dir)
    if wrong := lost.fault(data_dir):
        return [wrong, *(fault for name in lost.files_there(data_dir) for fault in _check_file(data_dir, name, ()))]
    found = [f"{path.name}: {fault}" for path in files_of(data_dir)[:1] for fault in faults_of(path)]
    try:
        registry = Registry(data_dir)
    except NoRoom:
        raise
    except DatabaseError as error:
        return found or [f"registry.db: can't be opened: {error}"]
    try:
        for clinic_id, file in registry.clinic_files():
            if why := unavailable(data_dir, registry, clinic_id):
                found.append(f"clinics/{file}: {why}")
            found += _check_file(data_dir, file, witness.seen(registry, clinic_id))
        found += [f"clinics/{name}: the registry does not know it" for name in lost.orphans(data_dir, registry)]
    except NoRoom:
        raise
    except DatabaseError as error:
        found.append(f"registry.db: can't be read: {error}")
    finally:
        registry.close()
    return found


def _check_file(data_dir: Path, file: str, witnesses: Iterable[tuple[int, bytes, str]]) -> list[str]:
    path = clinic_path(data_dir, file)
    if not path.exists():
        return []  # said already
    return [f"clinics/{file}: {fault}" for fault in faults_of(path, witnesses)]
