"""Commands on a disk that is full: each says what is so, in words, and leaves every file as it was."""

from __future__ import annotations

import shutil
from datetime import date
from importlib.util import find_spec
from pathlib import Path

import pytest

from plytide.settings import Settings
from plytide.storage.sqlite import connect
from tests.actors import Cast, plytide
from tests.storage.test_backup import files_of
from tests.storage.test_full_disk import copied, fill, on_small_disk, small_disk

__all__ = ["on_small_disk", "small_disk"]  # fixtures


@pytest.fixture
def full(on_small_disk: Settings, small_disk: Path, cast: Cast, today: date) -> Path:
    """A data folder on a full disk; nobody has it open, and no log lies beside its files."""
    data = on_small_disk.data_dir
    for path in data.rglob("*.db"):
        db = connect(path)
        db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        db.close()
    for part in [*data.rglob("*.db-wal"), *data.rglob("*.db-shm")]:
        part.unlink()
    return data


ROOM = (0, 20_000, 40_000, 120_000, 400_000)  # bytes left: for nothing, for the readers' own file, for a part of it


def all_but(place: Path, left: int) -> None:
    filler = fill(place)
    with filler.open("r+b") as file:
        file.truncate(filler.stat().st_size - left)


@pytest.mark.parametrize("left", ROOM)
def test_check_on_a_full_disk_says_what_is_so_and_no_file_is_called_damaged(
    full: Path, small_disk: Path, tmp_path: Path, left: int
) -> None:
    all_but(small_disk, left)
    said = plytide("check", "--data", str(full))
    assert "Traceback" not in said.stderr
    assert "rebuild" not in said.stdout + said.stderr  # the registry is whole
    assert ("full" in said.stdout + said.stderr) or "are whole" in said.stdout
    assert plytide("check", "--data", str(copied(full, tmp_path / "copy"))).returncode == 0


@pytest.mark.skipif(find_spec("sqlcipher3") is None, reason="no sqlcipher3 here: pip install '.[sealed]'")
@pytest.mark.parametrize("left", ROOM)
def test_encrypt_on_a_full_disk_says_so_and_changes_nothing(
    full: Path, small_disk: Path, tmp_path: Path, left: int
) -> None:
    all_but(small_disk, left)
    key, before = tmp_path / "database.key", files_of(copied(full, tmp_path / "before"))
    assert plytide("key", str(key)).returncode == 0
    said = plytide("encrypt", "--data", str(full), PLYTIDE_DATABASE_KEY_FILE=str(key))
    assert said.returncode == 2 and "Traceback" not in said.stderr
    assert "in use" not in said.stderr and "full" in said.stderr, said.stderr
    assert files_of(copied(full, tmp_path / "after")) == before
    assert not list(full.rglob("*.converting"))


CUTS = (1, 50, 99, 100, 4095, 4096, 5000, 8192, 12288)


@pytest.mark.parametrize("size", CUTS)
def test_check_with_a_registry_that_was_cut_short_names_it_and_goes_on_to_the_clinics(
    settings: Settings, tmp_path: Path, size: int
) -> None:
    data = shutil.copytree(settings.data_dir, tmp_path / "copy")
    registry = data / "registry.db"
    db = connect(registry)
    db.conn.execute("PRAGMA journal_mode=DELETE")
    db.close()
    registry.write_bytes(registry.read_bytes()[:size])
    said = plytide("check", "--data", str(data))
    assert said.returncode == 1, said.stderr
    assert "Traceback" not in said.stderr and "registry.db" in said.stdout
    clinic = next(data.glob("clinics/*.db"))
    db = connect(clinic)
    db.conn.execute("DROP TABLE note")
    db.close()
    said = plytide("check", "--data", str(data))
    assert said.returncode == 1 and clinic.name in said.stdout
