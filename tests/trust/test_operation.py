"""Running it: alive and ready, stopped without loss, files brought to a new shape once, copies sealed."""

from __future__ import annotations

import json
import os
import signal
import socket
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from plytide.http.app import create_app
from plytide.settings import Settings, utc_now
from plytide.storage.clinic_migrations import clinic_migrations
from plytide.storage.clinics import clinic_path
from plytide.storage.files import backup, health, keys, room
from plytide.storage.registry.migrations import registry_migrations
from plytide.storage.registry.registry import Registry, registry_path
from plytide.storage.sqlite import connect, prepare
from tests.actors import Actor, Cast, Server, plytide
from tests.conftest import TODAY


def status(url: str) -> int:
    try:
        with urllib.request.urlopen(url, timeout=120) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as refused:
        refused.close()
        return refused.code


# Alive and ready


def test_ready_says_no_when_a_file_is_gone_or_the_disk_is_full_and_alive_goes_on(cast: Cast) -> None:
    assert cast.nobody.get("/readyz").status_code == 200
    made = cast.app.config["SETTINGS"]
    full = Actor(create_app(replace(made, least_free_bytes=10**18)))
    said = full.get("/readyz")
    assert said.status_code == 503 and "disk" in said.get_json()["error"]["message"] and said.headers["Retry-After"]
    registry = Registry(made.data_dir)
    path = clinic_path(made.data_dir, registry.clinic_files()[1][1])
    registry.close()
    path.rename(path.with_suffix(".away"))
    said = cast.nobody.get("/readyz")
    assert said.status_code == 503 and "its file is missing" in said.get_json()["error"]["message"]
    assert "Sallow" not in said.get_data(as_text=True)  # whose it is stays inside
    assert cast.nobody.get("/healthz").status_code == 200


def test_a_running_server_adds_up_the_figures_of_all_its_workers(server: Server) -> None:
    for _ in range(12):
        assert status(f"{server.url}/api/me") == 401
    with urllib.request.urlopen(f"{server.url}/metrics", timeout=120) as answer:
        said = answer.read().decode()
    counted = [line for line in said.splitlines() if line.startswith("plytide_requests_total") and "/api/me" in line]
    assert sum(float(line.rsplit(" ", 1)[1]) for line in counted) == 12


def test_figures_come_while_logs_come_and_go(cast: Cast) -> None:
    """The last connection to close takes the write-ahead log away, at times between a listing of it and its size."""
    data = cast.app.config["SETTINGS"].data_dir
    clinic = next(data.glob("clinics/*.db"))
    assert room.size(clinic) > 0 == room.size(data / "clinics" / "none.db-wal")
    stop = threading.Event()

    def come_and_go() -> None:
        while not stop.is_set():
            db = connect(clinic)
            db.conn.execute("SELECT seq FROM clinic").fetchone()
            db.close()

    other = threading.Thread(target=come_and_go)
    other.start()
    try:
        for _ in range(120):
            assert "plytide_wal_bytes" in {name for name, _, _ in health.figures(data, Settings(data))}
    finally:
        stop.set()
        other.join()


# Stopping


def test_a_call_under_way_is_answered_when_the_server_is_told_to_stop(serve: Callable[..., Server]) -> None:
    server = serve("--workers", "1")
    host, port = "127.0.0.1", int(server.url.rsplit(":", 1)[1])
    body = json.dumps({"login": server.login, "password": server.password}).encode()
    head = "POST /api/clinic/session HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    head += f"Content-Length: {len(body)}\r\n\r\n"
    with socket.create_connection((host, port), timeout=120) as under_way:
        under_way.sendall(head.encode() + body[:10])
        assert status(f"{server.url}/healthz") == 200  # so the call before it has been taken
        server.process.send_signal(signal.SIGTERM)
        time.sleep(1)
        under_way.sendall(body[10:])
        under_way.settimeout(120)
        assert under_way.recv(200).startswith(b"HTTP/1.1 200")
    assert server.process.wait(120) == 0
    with pytest.raises(OSError):
        socket.create_connection((host, port), timeout=2).close()
    assert backup.check(server.data) == []


# New shapes


def shape(path: Path) -> list[tuple[str, str]]:
    db = connect(path)
    try:
        return sorted(
            (row[0], " ".join((row[1] or "").split()))
            for row in db.conn.execute("SELECT name, sql FROM sqlite_master WHERE name NOT LIKE '\\_%' ESCAPE '\\'")
        )
    finally:
        db.close()


def names_of(migrations: object, path: Path) -> list[str]:
    db = connect(path, create=True)
    try:
        return [one.name for one in migrations.pending(db)]  # type: ignore[attr-defined]
    finally:
        db.close()


@pytest.mark.parametrize("kind", ["clinic", "registry"])
def test_a_file_of_any_earlier_shape_comes_to_the_same_new_one(kind: str, tmp_path: Path) -> None:
    migrations = {"clinic": clinic_migrations, "registry": registry_migrations}[kind]
    names = names_of(migrations, tmp_path / "names.db")
    prepare(tmp_path / "new.db", migrations)
    for name in names[1:]:
        path = tmp_path / f"{name}.db"
        db = connect(path, create=True)
        migrations.apply(db, stop_before=name)
        db.close()
        assert names_of(migrations, path)[0] == name  # it is an older one: a migration may move rows and no shape
        prepare(path, migrations)
        prepare(path, migrations)  # again does nothing
        assert shape(path) == shape(tmp_path / "new.db")
        assert [fault for fault in backup.faults_of(path)] == []


def test_an_upgrade_is_rehearsed_on_a_copy_and_leaves_the_original_as_it_was(cast: Cast, tmp_path: Path) -> None:
    cast.anouk.sync(cast.anouk.checkin(TODAY))
    data = cast.app.config["SETTINGS"].data_dir
    before = {path.name: backup.sha256(path) for path in data.rglob("*.db")}
    backup.backup(data, tmp_path / "copy", utc_now())
    assert backup.restore(tmp_path / "copy", tmp_path / "rehearsal") == 3
    assert backup.check(tmp_path / "rehearsal") == []
    assert {path.name: backup.sha256(path) for path in data.rglob("*.db") if path.name != "registry.db"} == {
        name: digest for name, digest in before.items() if name != "registry.db"
    }


# Sealed copies


def rows(path: Path) -> dict[str, list[tuple[object, ...]]]:
    db = connect(path)
    try:
        tables = [row[0] for row in db.conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {table: sorted(db.conn.execute(f"SELECT * FROM {table}").fetchall(), key=repr) for table in tables}
    finally:
        db.close()


def test_a_sealed_backup_shows_nothing_and_comes_back_row_by_row(cast: Cast, tmp_path: Path) -> None:
    cast.anouk.sync(cast.anouk.checkin(TODAY, note="canary-note"))
    data, key = cast.app.config["SETTINGS"].data_dir, tmp_path / "apart" / "backup.key"
    key.parent.mkdir()
    target, fresh = tmp_path / "copy", tmp_path / "fresh"
    made = plytide("backup", str(target), "--data", str(data), "--key-file", str(key))
    assert made.returncode == 0 and key.stat().st_mode & 0o077 == 0, made.stderr
    lying = b"".join(path.read_bytes() for path in target.rglob("*") if path.is_file())
    for word in (b"canary-note", b"Anouk", b"SQLite format", b"made_at"):
        assert word not in lying
    without = plytide("restore", str(target), "--data", str(fresh))
    assert without.returncode == 2 and "--key-file" in without.stderr
    other = tmp_path / "other.key"
    keys.new_key(other)
    wrong = plytide("restore", str(target), "--data", str(fresh), "--key-file", str(other))
    assert wrong.returncode == 2 and "another key" in wrong.stderr and not fresh.exists()
    back = plytide("restore", str(target), "--data", str(fresh), "--key-file", str(key))
    assert back.returncode == 0, back.stderr
    for path in sorted(data.rglob("*.db")):
        there, here = rows(path), rows(fresh / path.relative_to(data))
        differ = {table for table in there if there[table] != here[table]}
        # A restore begins a new epoch and ends every session; the chain of facts goes on with that. All else is as it
        # was.
        if path.name == registry_path(data).name:
            assert differ <= {"session"}
        else:
            assert differ <= {"clinic", "fact", "sqlite_sequence"}
            assert set(there["fact"]) < set(here["fact"]) and len(here["fact"]) == len(there["fact"]) + 1
    assert plytide("check", "--data", str(fresh)).returncode == 0
    assert not list(tmp_path.glob(".opened-*"))


def test_a_sealed_file_of_any_length_comes_back_and_no_change_to_it_passes(tmp_path: Path) -> None:
    key = os.urandom(32)
    plain, closed, opened = tmp_path / "plain", tmp_path / "closed", tmp_path / "opened"
    for length in (0, 1, keys.PIECE - 1, keys.PIECE, keys.PIECE + 1, 2 * keys.PIECE):
        plain.write_bytes(os.urandom(length))
        keys.seal(plain, closed, key)
        keys.unseal(closed, opened, key)
        assert opened.read_bytes() == plain.read_bytes()
    whole = closed.read_bytes()
    piece = keys.PIECE + keys.TAG
    head, first, second = whole[:23], whole[23 : 23 + piece], whole[23 + piece :]
    for changed in (
        whole[:-1], head + first, head + second, head + second + first, whole + b"x", whole[:60] + b"\0\0" + whole[62:],
        head[:-1] + b"\0" + first + second if head[-1] else head[:-1] + b"\1" + first + second, head,
    ):  # fmt: skip
        closed.write_bytes(changed)
        with pytest.raises(keys.KeyFault):
            keys.unseal(closed, opened, key)
        assert not opened.exists()


def test_an_operator_frees_somebody_who_lost_everything(cast: Cast) -> None:
    from tests.trust.test_second_factor import set_up, sign_in

    set_up(cast, cast.nora)
    assert sign_in(cast, login="nora").status_code == 401
    data = cast.app.config["SETTINGS"].data_dir
    assert plytide("unlock", "--data", str(data), "--login", "nobody").returncode == 2
    assert plytide("unlock", "--data", str(data), "--login", "nora").returncode == 0
    assert sign_in(cast, login="nora").status_code == 200
    assert backup.check(data) == []
