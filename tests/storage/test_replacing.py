"""A backup and a restore that are cut short, refused, or have no room: nothing half done passes for whole."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from plytide.settings import Settings
from plytide.storage.files import backup, lock
from plytide.storage.files.keys import new_key, read_key
from tests.actors import Cast, Server, plytide
from tests.storage.test_backup import files_of
from tests.storage.test_encryption import bytes_below, killed_at, shown
from tests.storage.test_full_disk import fill, mount


@pytest.fixture
def filled(cast: Cast, settings: Settings, today: date, tmp_path: Path) -> Path:
    """A data folder of two clinics, which nobody has open."""
    cast.anouk.sync(*[cast.anouk.checkin(today, note="a canary") for _ in range(30)])
    return Path(shutil.copytree(settings.data_dir, tmp_path / "filled"))


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    place = tmp_path / "disk"
    place.mkdir()
    if not mount("-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place)):
        pytest.skip("mounting a file system needs root")
    yield place
    subprocess.run(["umount", "--lazy", str(place)], check=True, timeout=120)


def test_a_restore_under_a_running_server_is_refused_and_nothing_is_replaced(server: Server, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    assert plytide("backup", str(copy), "--data", str(server.data)).returncode == 0
    numbers = {path: path.stat().st_ino for path in server.data.rglob("*.db")}
    said = plytide("restore", str(copy), "--data", str(server.data), "--force")
    assert said.returncode == 2 and "Stop it first" in said.stderr
    assert {path: path.stat().st_ino for path in server.data.rglob("*.db")} == numbers
    server.process.terminate()
    server.process.wait(120)
    again = plytide("restore", str(copy), "--data", str(server.data), "--force")
    assert again.returncode == 0, again.stderr


def test_no_server_starts_while_files_are_replaced(filled: Path) -> None:
    with lock.alone(filled):
        said = plytide("serve", "--data", str(filled), "--port", "0")
    assert said.returncode == 2 and "being replaced" in said.stderr


def test_two_servers_may_share_a_folder(filled: Path) -> None:
    with lock.serving(filled), lock.serving(filled), pytest.raises(lock.InUse), lock.alone(filled):
        pass


def test_a_restore_that_is_killed_anywhere_never_leaves_a_registry_without_its_clinics(
    filled: Path, tmp_path: Path
) -> None:
    copy, steps, cut_short = tmp_path / "copy", 0, 0
    backup.backup(filled, copy, backup.utc_now())
    held = {name: tables.keys() for name, tables in files_of(copy).items()}
    while True:
        data = tmp_path / f"try-{steps}"
        shutil.copytree(filled, data)
        if not killed_at(steps, "restore", str(copy), "--data", str(data), "--force"):
            break
        if backup.half_restored(data):
            cut_short += 1
            for command in (("serve", "--port", "0"), ("check",)) if cut_short == 1 else ():
                said = plytide(*command, "--data", str(data))
                assert said.returncode == 2 and "cut short" in said.stderr
            with pytest.raises(backup.BackupFault, match="cut short"):
                backup.check(data)
            if (data / "registry.db").exists():
                assert {name: tables.keys() for name, tables in files_of(data).items()} == held
        else:
            assert backup.check(data) == []
        backup.restore(copy, data, force=True)
        assert backup.check(data) == []
        assert not list(tmp_path.glob("try-*.re*"))
        shutil.rmtree(data)
        steps += 1
    assert cut_short >= 6  # three files taken away and three put in place, at least


def test_a_backup_that_is_killed_anywhere_leaves_nothing_that_looks_whole(filled: Path, tmp_path: Path) -> None:
    key, steps = tmp_path / "backup.key", 0
    new_key(key)
    while True:
        target = tmp_path / f"copy-{steps}"
        command = ("backup", str(target), "--data", str(filled), "--key-file", str(key))
        if not killed_at(steps, *command):
            break
        if target.exists():  # killed once the copy was in its place: then it is whole
            with backup.unsealed(target, read_key(key)) as opened:
                assert len(backup.verify(opened)) == 3  # the registry and two clinics
            shutil.rmtree(target)
        done = plytide(*command)
        assert done.returncode == 0, done.stderr
        assert shown(bytes_below(target), "a canary", "SQLite format 3") == []
        assert not list(tmp_path.glob("*.making"))
        steps += 1
    assert steps >= 5


def test_a_backup_onto_a_full_disk_says_so_and_leaves_nothing(filled: Path, disk: Path) -> None:
    filler = fill(disk)
    with filler.open("r+b") as file:
        file.truncate(filler.stat().st_size - 100_000)  # room for a part of it
    said = plytide("backup", str(disk / "copy"), "--data", str(filled))
    assert said.returncode == 2 and "Traceback" not in said.stderr
    assert "No backup was made" in said.stderr and ("full" in said.stderr or "No space" in said.stderr)
    assert sorted(path.name for path in disk.iterdir()) == ["filler"]


def test_a_backup_that_can_not_be_written_says_where(filled: Path, disk: Path, tmp_path: Path) -> None:
    assert mount("-o", "remount,ro", str(disk))
    (tmp_path / "file").write_text("in the way")
    for target in (disk / "copy", tmp_path / "file" / "copy"):
        said = plytide("backup", str(target), "--data", str(filled))
        assert said.returncode == 2 and len(said.stderr.splitlines()) == 1
        assert "No backup was made" in said.stderr and str(target.parent) in said.stderr
    key = plytide("backup", str(tmp_path / "c"), "--data", str(filled), "--key-file", str(disk / "backup.key"))
    assert key.returncode == 2 and "can't be written" in key.stderr


def test_a_restore_onto_a_full_disk_replaces_nothing(filled: Path, disk: Path, tmp_path: Path) -> None:
    copy, data = tmp_path / "copy", disk / "data"
    backup.backup(filled, copy, backup.utc_now())
    data.mkdir()
    fill(disk)
    said = plytide("restore", str(copy), "--data", str(data))
    assert said.returncode == 2 and "Nothing was replaced" in said.stderr, said.stderr
    assert not list(data.rglob("*.db")) and not list(disk.glob("data.*"))
