"""A backup taken while phones write is one moment of the clinic, and comes back row for row."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from plytide.settings import Settings
from plytide.storage import audit
from plytide.storage.files import backup
from plytide.storage.sqlite import connect
from tests.actors import PASSWORD, Cast, Wearer, plytide
from tests.work.test_sync_rules import called, of_feed, statuses

APPEND_ONLY = ("checkin", "audit", "signal_event")

Tables = dict[str, list[tuple[Any, ...]]]


def whole(path: Path) -> Tables:
    """Every row of every table of a file, in the order of the rows."""
    db = connect(path)
    try:
        names = [row[0] for row in db.conn.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")]
        return {name: sorted(map(tuple, db.conn.execute(f"SELECT * FROM {name}")), key=repr) for name in names}
    finally:
        db.close()


def files_of(folder: Path) -> dict[str, Tables]:
    """Every database of a data folder or a backup, by its name."""
    paths = [*folder.glob("*.db"), *folder.glob("clinics/*.db")]
    return {path.relative_to(folder).as_posix(): whole(path) for path in paths}


@contextmanager
def writing(wearers: list[Wearer], today: date) -> Iterator[list[int]]:
    """Phones that send batch after batch, each in a thread of its own, as workers would hear them."""
    stop, batches, faults = threading.Event(), [0] * len(wearers), []

    def send(n: int, wearer: Wearer) -> None:
        while not stop.is_set():
            items = [wearer.checkin(today - timedelta(days=day), note=f"{batches[n]}") for day in range(10)]
            answer = wearer.sync(*items)
            if answer.status_code != 200:
                faults.append(answer.get_json())
                return
            batches[n] += 1

    threads = [threading.Thread(target=send, args=pair) for pair in enumerate(wearers)]
    for thread in threads:
        thread.start()
    try:
        yield batches
    finally:
        stop.set()
        for thread in threads:
            thread.join(300)
    assert faults == []


def test_a_backup_under_load_is_one_moment_of_each_clinic(
    cast: Cast, settings: Settings, today: date, tmp_path: Path
) -> None:
    with writing([cast.anouk, cast.bram, cast.esme], today) as batches:
        for n in range(3):
            before = sum(batches)
            backup.backup(settings.data_dir, tmp_path / f"backup-{n}", cast.clock.now)
            while sum(batches) < before + 3:  # they do write on
                pass
    live = files_of(settings.data_dir)
    sizes = []
    for n in range(3):
        backup.verify(tmp_path / f"backup-{n}")
        copied = files_of(tmp_path / f"backup-{n}")
        assert copied.keys() == live.keys()
        for name, tables in copied.items():
            for table in set(APPEND_ONLY) & tables.keys():
                now = {row[0]: row for row in live[name][table]}
                assert all(now[row[0]] == row for row in tables[table])
            if "checkin" in tables:
                # Whole batches: what one call kept is all there or not at all, and nothing before it is missing.
                seqs = sorted(row[0] for row in tables["checkin"])
                assert [row[0] for row in sorted(live[name]["checkin"])][: len(seqs)] == seqs
                assert len(seqs) % 10 == 0
                sizes.append(len(seqs))
    assert max(sizes) > 0


def test_a_restore_brings_back_every_row_and_a_new_epoch(
    cast: Cast, settings: Settings, today: date, tmp_path: Path
) -> None:
    for wearer in (cast.anouk, cast.bram, cast.dov, cast.esme):
        assert wearer.sync(*[wearer.checkin(today - timedelta(days=day)) for day in range(40)]).status_code == 200
    cast.ida.made(f"/api/clinic/limbs/{cast.anouk.limb_id}/notes", {"text": "Seen with the liner."})
    assert cast.ida.get("/api/clinic/worklist").status_code == 200
    backup.backup(settings.data_dir, tmp_path / "backup", cast.clock.now)
    before = files_of(settings.data_dir)
    cast.anouk.sync(*[cast.anouk.checkin(today) for _ in range(30)])
    backup.restore(tmp_path / "backup", settings.data_dir, force=True)
    after = files_of(settings.data_dir)
    assert after.keys() == before.keys()
    for name, tables in before.items():
        assert after[name].keys() == tables.keys()
        for table, rows in tables.items():
            if table == "sqlite_sequence":
                continue  # how far numbers were given: the operator's own lines took some
            if table == "session":
                assert after[name][table] == []  # a copy may hold sessions that were signed out since
            elif table == "clinic" and "epoch" in columns(settings.data_dir / name, table):
                at = columns(settings.data_dir / name, table).index("epoch")
                (was,), (is_,) = rows, after[name][table]
                assert was[at] != is_[at]
                assert was[:at] + was[at + 1 :] == is_[:at] + is_[at + 1 :]
            else:
                # What the operator did may be added to what there was; nothing of it is changed or gone.
                assert [row for row in rows if row not in after[name][table]] == [], (name, table)
                assert len(after[name][table]) - len(rows) <= (1 if table in ("audit", "fact") else 0), (name, table)
    assert backup.check(settings.data_dir) == []


def columns(path: Path, table: str) -> list[str]:
    db = connect(path)
    try:
        return [row[1] for row in db.conn.execute(f"PRAGMA table_info({table})")]
    finally:
        db.close()


def test_after_a_restore_phones_offer_again_and_nothing_receipted_is_missing(
    cast: Cast, settings: Settings, today: date, tmp_path: Path
) -> None:
    early = [cast.anouk.checkin(today - timedelta(days=day)) for day in range(20)]
    first = called(cast.anouk.phone, *early)
    backup.backup(settings.data_dir, tmp_path / "backup", cast.clock.now)
    late = [cast.anouk.checkin(today) for _ in range(20)]
    second = called(cast.anouk.phone, *late, cursor=first["cursor"])
    backup.restore(tmp_path / "backup", settings.data_dir, force=True)
    told = called(cast.anouk.phone, cursor=second["cursor"])
    assert told["epoch"] != second["epoch"]
    assert of_feed(told).keys() == {one["id"] for one in early}
    again = called(cast.anouk.phone, *early, *late, cursor=told["cursor"])
    assert statuses(again) == ["already"] * 20 + ["kept"] * 20
    assert of_feed(called(cast.anouk.phone)).keys() == {one["id"] for one in (*early, *late)}


def test_the_commands_copy_and_put_back_while_a_real_server_ran(
    cast: Cast, settings: Settings, today: date, tmp_path: Path
) -> None:
    cast.anouk.sync(*[cast.anouk.checkin(today) for _ in range(10)])
    copied = plytide("backup", str(tmp_path / "backup"), "--data", str(settings.data_dir))
    assert (copied.returncode, copied.stdout.split()[0]) == (0, "3"), copied.stderr
    again = plytide("backup", str(tmp_path / "backup"), "--data", str(settings.data_dir))
    assert again.returncode == 2 and "already holds something" in again.stderr
    kept_out = plytide("restore", str(tmp_path / "backup"), "--data", str(settings.data_dir))
    assert kept_out.returncode == 2 and "--force" in kept_out.stderr
    elsewhere = plytide("restore", str(tmp_path / "backup"), "--data", str(tmp_path / "elsewhere"))
    assert elsewhere.returncode == 0, elsewhere.stderr
    assert plytide("check", "--data", str(tmp_path / "elsewhere")).returncode == 0


@pytest.mark.parametrize("damage", ["flip a byte", "leave out a file", "no list", "a path that climbs"])
def test_a_damaged_backup_is_refused_and_nothing_is_replaced(
    cast: Cast, settings: Settings, today: date, tmp_path: Path, damage: str
) -> None:
    target = tmp_path / "backup"
    backup.backup(settings.data_dir, target, cast.clock.now)
    cast.anouk.sync(cast.anouk.checkin(today))
    clinic = sorted((target / "clinics").glob("*.db"))[0]
    if damage == "flip a byte":
        data = bytearray(clinic.read_bytes())
        data[len(data) // 2] ^= 1
        clinic.write_bytes(data)
    elif damage == "leave out a file":
        clinic.unlink()
    elif damage == "no list":
        (target / backup.MANIFEST).unlink()
    else:
        manifest = target / backup.MANIFEST
        manifest.write_text(manifest.read_text().replace("clinics/", "../clinics/"))
    before = files_of(settings.data_dir)
    with pytest.raises(backup.BackupFault):
        backup.restore(target, settings.data_dir, force=True)
    assert files_of(settings.data_dir) == before


def test_the_audit_chain_of_a_backup_holds(cast: Cast, settings: Settings, today: date, tmp_path: Path) -> None:
    cast.anouk.sync(cast.anouk.checkin(today))
    backup.backup(settings.data_dir, tmp_path / "backup", cast.clock.now)
    for path in (tmp_path / "backup" / "clinics").glob("*.db"):
        db = connect(path)
        assert audit.first_broken_line(db) is None
        db.close()


def test_a_restore_signs_everybody_out(cast: Cast, settings: Settings, tmp_path: Path) -> None:
    assert cast.ida.get("/api/clinic/session").status_code == 200
    backup.backup(settings.data_dir, tmp_path / "copy", settings.now())
    backup.restore(tmp_path / "copy", settings.data_dir, force=True)
    assert cast.ida.get("/api/clinic/session").status_code == 401


def test_what_a_command_writes_is_its_owners_alone(tmp_path: Path) -> None:
    """Also where the shell leaves files open to all: databases, and copies of them."""
    before = os.umask(0o022)
    try:
        data, copy = tmp_path / "data", tmp_path / "copy"
        named = ["--clinic", "Lantern Quay", "--login", "wout", "--name", "Wout"]
        assert plytide("init", "--data", str(data), *named, PLYTIDE_PASSWORD=PASSWORD).returncode == 0
        assert plytide("backup", str(copy), "--data", str(data)).returncode == 0
    finally:
        os.umask(before)
    files = [path for folder in (data, copy) for path in (folder, *folder.rglob("*"))]
    assert len(files) > 6
    assert [path for path in files if path.stat().st_mode & 0o077] == []
