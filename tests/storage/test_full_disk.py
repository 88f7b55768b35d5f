"""A disk that is full or can't be written: a 503 that says when to come back, nothing half kept, nothing forgotten."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from werkzeug.test import TestResponse

from plytide.engine import assess as review
from plytide.http.app import create_app
from plytide.settings import Settings
from plytide.storage.files import backup
from plytide.storage.sqlite import connect
from plytide.work import background
from tests.actors import Actor, Cast
from tests.conftest import bearing
from tests.sync_model.phone import Phone
from tests.sync_model.world import Json


def mount(*options: str) -> bool:
    return subprocess.run(["mount", *options], capture_output=True, timeout=120).returncode == 0


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 6 MB of its own; needs the right to mount one."""
    place = tmp_path / "small"
    place.mkdir()
    if not mount("-t", "tmpfs", "-o", "size=6m", "tmpfs", str(place)):
        pytest.skip("mounting a file system needs root")
    yield place
    subprocess.run(["umount", "--lazy", str(place)], check=True, timeout=120)


@pytest.fixture
def on_small_disk(small_disk: Path, settings: Settings) -> Settings:
    shutil.copytree(settings.data_dir, small_disk / "data")
    return replace(settings, data_dir=small_disk / "data")


def fill(place: Path) -> Path:
    """Take all room that is left."""
    filler = place / "filler"
    with filler.open("wb", buffering=0) as file:
        for size in (65536, 4096, 512, 1):
            try:
                while True:
                    file.write(b"x" * size)
            except OSError:
                continue
    return filler


def phone_of(cast: Cast, app: object) -> tuple[Phone, Callable[[], TestResponse]]:
    """Anouk's phone by the model's rules, and one call of it to this app."""
    actor = replace(bearing(cast.app, cast.anouk.token), app=app)
    phone = Phone(cast.anouk.token, "", cast.anouk.limb_ids)

    def call() -> TestResponse:
        sent = phone.envelope("2025-09-15T12:00:00Z")
        answer = actor.post("/api/sync", sent)
        if answer.status_code == 200:
            phone.learn(sent, answer.get_json())
        return answer

    return phone, call


def in_a_thread(work: Callable[[], TestResponse]) -> TestResponse:
    """As a worker would: with connections that end with the thread."""
    found: list[TestResponse] = []
    thread = threading.Thread(target=lambda: found.append(work()))
    thread.start()
    thread.join(300)
    return found[0]


def rows(data: Path, sql: str) -> list[str]:
    """Asked of a copy: a full disk has no room for the file that two readers share."""
    found: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        copy = copied(data, Path(folder))
        for path in (copy / "clinics").glob("*.db"):
            db = connect(path)
            found += [row[0] for row in db.conn.execute(sql)]
            db.close()
    return found


def copied(data: Path, folder: Path) -> Path:
    """A copy beside a thread that opens and closes connections: a file may go between its listing and its reading."""
    for attempt in range(50):
        try:
            return shutil.copytree(data, folder / str(attempt))
        except shutil.Error:
            time.sleep(0.05)
    raise AssertionError("the folder never stood still for a copy")


def kept(data: Path) -> list[str]:
    return rows(data, "SELECT id FROM checkin ORDER BY seq")


def save(phone: Phone, cast: Cast, today: date, count: int) -> list[str]:
    items: list[Json] = [cast.anouk.checkin(today - timedelta(days=n % 90), note="x" * 900) for n in range(count)]
    for item in items:
        phone.save(item)
    return sorted(item["id"] for item in items)


def says_come_back(answer: TestResponse) -> None:
    assert answer.status_code == 503
    assert answer.mimetype == "application/json"
    assert answer.get_json()["error"]["code"] == "storage"
    assert "try again" in answer.get_json()["error"]["message"]
    assert int(answer.headers["Retry-After"]) > 0


def test_a_full_disk_keeps_nothing_by_half_and_the_phone_keeps_all(
    small_disk: Path, on_small_disk: Settings, cast: Cast, today: date
) -> None:
    phone, call = phone_of(cast, create_app(on_small_disk))
    early = save(phone, cast, today, 20)
    assert call().status_code == 200
    filler = fill(small_disk)
    late = save(phone, cast, today, 50)
    for _ in range(4):
        says_come_back(call())
    assert (kept(on_small_disk.data_dir), len(phone.waiting())) == (early, 50)
    filler.unlink()
    assert call().status_code == 200
    assert (kept(on_small_disk.data_dir), phone.waiting()) == (early + late, [])
    assert backup.check(on_small_disk.data_dir) == []


def test_a_disk_that_fills_while_a_batch_is_written_keeps_whole_batches_only(
    small_disk: Path, on_small_disk: Settings, cast: Cast, today: date
) -> None:
    phone, call = phone_of(cast, create_app(on_small_disk))
    save(phone, cast, today, 5000)
    phone.batch = 200
    batches = 0
    while (answer := call()).status_code == 200:
        batches += 1
    says_come_back(answer)
    assert 0 < batches < 25
    there = kept(on_small_disk.data_dir)
    assert len(there) == batches * 200
    assert {id_ for id_, row in phone.disk.rows.items() if row.state == "kept"} == set(there)


def test_a_database_at_its_largest_says_so(
    settings: Settings, cast: Cast, today: date, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same without the right to mount: SQLite's own limit of pages."""

    def limited(path: Path, *, create: bool = False) -> object:
        db = connect(path, create=create)
        pages = db.conn.execute("PRAGMA page_count").fetchone()[0]
        db.conn.execute(f"PRAGMA max_page_count = {pages}")
        return db

    phone, call = phone_of(cast, create_app(settings))
    ids = save(phone, cast, today, 50)
    with monkeypatch.context() as patch:
        patch.setattr("plytide.storage.sqlite.connect", limited)
        says_come_back(in_a_thread(call))
    assert (kept(settings.data_dir), len(phone.waiting())) == ([], 50)
    assert in_a_thread(call).status_code == 200
    assert kept(settings.data_dir) == ids


def test_a_disk_that_can_not_be_written_says_so_and_heals(
    small_disk: Path, on_small_disk: Settings, cast: Cast, today: date
) -> None:
    phone, call = phone_of(cast, create_app(on_small_disk))
    ids = save(phone, cast, today, 10)
    assert mount("-o", "remount,ro", str(small_disk))
    says_come_back(call())
    says_come_back(call())
    assert len(phone.waiting()) == 10
    assert mount("-o", "remount,rw", str(small_disk))
    assert call().status_code == 200
    assert (kept(on_small_disk.data_dir), phone.waiting()) == (ids, [])


def test_the_reviewer_lives_through_a_full_disk(
    small_disk: Path, on_small_disk: Settings, cast: Cast, today: date
) -> None:
    eager = replace(on_small_disk, sweep_seconds=0.05)
    phone, call = phone_of(cast, create_app(eager))
    save(phone, cast, today, 40)
    assert call().status_code == 200
    filler = fill(small_disk)
    stop = threading.Event()
    thread = background.start(eager, stop)
    try:
        time.sleep(1)
        assert thread.is_alive()
        assert waiting(eager) > 0
        filler.unlink()
        until = time.monotonic() + 60
        while waiting(eager) and time.monotonic() < until:
            time.sleep(0.1)
        assert (thread.is_alive(), waiting(eager)) == (True, 0)
    finally:
        stop.set()
        thread.join(300)


def test_a_limb_that_breaks_the_engine_holds_nobody_else_up(
    settings: Settings, cast: Cast, today: date, monkeypatch: pytest.MonkeyPatch
) -> None:
    for wearer in (cast.anouk, cast.bram, cast.esme):
        assert wearer.sync(wearer.checkin(today)).status_code == 200
    assess = review.assess_caseload

    def breaks(histories: Any, *rest: Any, **more: Any) -> Any:
        if any(history.limb.id == cast.anouk.limb_id for history in histories):
            raise ZeroDivisionError
        return assess(histories, *rest, **more)

    with monkeypatch.context() as patch:
        patch.setattr(review, "assess_caseload", breaks)
        assert background.sweep(settings) > 0
        assert background.sweep(settings) == 0
    assert rows(settings.data_dir, "SELECT limb_id FROM stale") == [cast.anouk.limb_id]
    cast.clock.forward(hours=3)  # it was set aside, and is tried again after a pause
    assert background.sweep(settings) == 1
    assert waiting(settings) == 0


def waiting(settings: Settings) -> int:
    return len(rows(settings.data_dir, "SELECT limb_id FROM stale"))


def test_staff_are_told_too(small_disk: Path, on_small_disk: Settings, cast: Cast) -> None:
    # A disk smaller than the room that is kept free otherwise.
    app = create_app(replace(on_small_disk, least_free_bytes=20_000))
    ida: Actor = replace(cast.ida, app=app)
    filler = fill(small_disk)
    answers = [ida.post(f"/api/clinic/limbs/{cast.anouk.limb_id}/notes", {"text": "x" * 1500}) for _ in range(40)]
    assert answers[-1].status_code == 507 and answers[-1].get_json()["error"]["code"] == "no-room"
    assert int(answers[-1].headers["Retry-After"]) > 0
    filler.unlink()
    assert ida.post(f"/api/clinic/limbs/{cast.anouk.limb_id}/notes", {"text": "Room again."}).status_code in (200, 201)
