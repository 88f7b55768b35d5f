"""The worklist answers at once, however much news waits: the engine reads behind it, each row says of when it is, and a
danger is on the list in the very next call, whatever waits.
"""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from plytide.http import worklist
from plytide.http.app import create_app
from plytide.settings import Settings
from plytide.storage import assessment as assessments
from plytide.storage import history as histories
from plytide.storage.sqlite import write
from plytide.work import at_once, background, reassess
from tests.actors import Actor, Cast, Wearer
from tests.http.test_agreement import db_of

CHEST = {"signs": ["chest_pain_or_breathless"], "signs_checked": True}
OPEN = {"skin": [{"place": "end", "finding": "open_skin"}], "skin_checked": True}


@pytest.fixture
def served(settings: Settings) -> Settings:
    """As `plytide serve`; nobody sweeps but the test."""
    return replace(settings, sweep_seconds=2)


@pytest.fixture
def ida(cast: Cast, served: Settings) -> Actor:
    background.sweep(served)
    return replace(cast.ida, app=create_app(served))


@pytest.fixture
def no_engine(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise AssertionError("the engine's round in a call")

    monkeypatch.setattr("plytide.work.reassess.assess.assess_caseload", refuse)


def row_of(ida: Actor, wearer: Wearer, limb: int = 0) -> dict[str, Any]:
    rows = ida.get("/api/clinic/worklist").get_json()["limbs"]
    return next(one for one in rows if one["limb_id"] == wearer.limb_ids[limb])


def test_much_news_is_read_behind_the_list_and_the_list_says_so(
    cast: Cast, served: Settings, ida: Actor, today: date
) -> None:
    limbs = [
        ida.made(f"/api/clinic/people/{cast.anouk.id}/limbs", {"side": "left", "level": "transtibial"})["id"]
        for _ in range(worklist.FEW + 6)
    ]
    first = ida.get("/api/clinic/worklist").get_json()
    assert first["waiting"] >= len(limbs)
    assert first["as_of"] == today.isoformat()
    background.sweep(served)
    assert ida.get("/api/clinic/worklist").get_json()["waiting"] == 0


def test_little_news_is_waited_for_where_a_background_reads(
    cast: Cast, served: Settings, today: date, monkeypatch: pytest.MonkeyPatch
) -> None:
    reading, stop = background.Reading(), threading.Event()
    monkeypatch.setattr(background, "reading", reading)
    monkeypatch.setattr(worklist, "WAIT", 120.0)  # a loaded machine
    background.sweep(served)
    thread = reading.start(replace(served, sweep_seconds=0.05), stop)
    try:
        ida = replace(cast.ida, app=create_app(served))
        cast.anouk.sync(cast.anouk.checkin(today))
        told = ida.get("/api/clinic/worklist").get_json()
    finally:
        stop.set()
        thread.join()
    row = next(one for one in told["limbs"] if one["limb_id"] == cast.anouk.limb_id)
    assert (told["waiting"], row["last_checkin"], row["news_at"]) == (0, today.isoformat(), None)


def test_where_nothing_reads_nobody_waits(cast: Cast, ida: Actor, today: date, no_engine: None) -> None:
    cast.anouk.sync(cast.anouk.checkin(today))
    assert ida.get("/api/clinic/worklist").get_json()["waiting"] == 1


def test_a_row_says_of_when_it_is_while_its_log_is_newer(cast: Cast, served: Settings, ida: Actor, today: date) -> None:
    before = row_of(ida, cast.anouk)
    assert before["news_at"] is None and before["assessed_at"] == cast.clock.now.isoformat()
    cast.clock.forward(minutes=5)
    cast.anouk.sync(cast.anouk.checkin(today))
    row = row_of(ida, cast.anouk)
    assert row["assessed_at"] == before["assessed_at"] < row["news_at"] == cast.clock.now.isoformat()
    assert row_of(ida, cast.dov)["news_at"] is None
    cast.clock.forward(minutes=1)
    background.sweep(served)
    row = row_of(ida, cast.anouk)
    assert row["news_at"] is None and row["assessed_at"] == cast.clock.now.isoformat()


@pytest.mark.parametrize("said, rule", [(CHEST, "emergency-chest"), (OPEN, None)])
def test_a_danger_is_on_the_list_in_the_very_next_call_whatever_waits(
    cast: Cast, served: Settings, ida: Actor, today: date, no_engine: None, said: dict[str, Any], rule: str | None
) -> None:
    for _ in range(worklist.FEW + 6):
        ida.made(f"/api/clinic/people/{cast.dov.id}/limbs", {"side": "left", "level": "transtibial"})
    item = cast.anouk.checkin(today, **said)
    cast.anouk.sync(item)
    told = ida.get("/api/clinic/worklist").get_json()
    assert told["waiting"] > worklist.FEW
    first = told["limbs"][0]
    assert first["limb_id"] == cast.anouk.limb_id and first["urgency"] == 3
    (signal,) = first["signals"]
    assert signal["level"] == "urgent" and signal["evidence"] == [item["id"]]
    assert rule in (None, signal["rule"])
    assert first["why"] == signal["because"]


def test_a_danger_in_an_entry_that_was_refused_is_on_the_list_at_once(
    cast: Cast, ida: Actor, today: date, no_engine: None
) -> None:
    receipt = cast.anouk.sync({**cast.anouk.checkin(today, **CHEST), "comfort": 99}).get_json()["receipts"][0]
    assert receipt["status"] == "refused"
    assert row_of(ida, cast.anouk)["urgency"] == 3


def test_a_fast_gain_of_weight_is_on_the_list_at_once_for_whom_it_is_a_danger(
    cast: Cast, served: Settings, ida: Actor, today: date
) -> None:
    ida.patch(f"/api/clinic/people/{cast.anouk.id}", {"tags": ["heart_failure"]})
    cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=1), weight_kg=70))
    cast.bram.sync(cast.bram.checkin(today - timedelta(days=1), weight_kg=70))
    background.sweep(served)
    cast.anouk.sync(cast.anouk.checkin(today, weight_kg=74))
    cast.bram.sync(cast.bram.checkin(today, weight_kg=74))
    assert [one["kind"] for one in row_of(ida, cast.anouk)["signals"]] == ["safety"]
    assert not row_of(ida, cast.bram)["signals"]


def test_a_limb_that_was_never_read_is_on_the_list_when_it_tells_of_a_danger(
    cast: Cast, served: Settings, today: date
) -> None:
    db = db_of(cast)
    with write(db):
        db.conn.execute("DELETE FROM assessment")
    ida = replace(cast.ida, app=create_app(served))
    cast.anouk.sync(cast.anouk.checkin(today, **CHEST))
    (row,) = ida.get("/api/clinic/worklist").get_json()["limbs"]
    assert (row["limb_id"], row["urgency"], row["state"]) == (cast.anouk.limb_id, 3, "gathering")
    assert row["news_at"] is not None


def test_a_danger_told_again_is_on_the_list_again_though_it_was_dealt_with(
    cast: Cast, served: Settings, ida: Actor, today: date, no_engine: None
) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, **OPEN))
    signal = row_of(ida, cast.anouk)["signals"][0]
    ida.made(f"/api/clinic/signals/{signal['id']}/close", {"outcome": "Called"})
    cast.anouk.sync(cast.anouk.checkin(today, **OPEN))
    (again,) = row_of(ida, cast.anouk)["signals"]
    assert (again["id"], again["status"]) == (signal["id"], "open")


def test_a_danger_of_long_ago_waits_for_the_round(cast: Cast, served: Settings, ida: Actor, today: date) -> None:
    """As when a phone offers a whole log again: what was told of then is not told of again by each of its calls."""
    cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=at_once.DAYS_BACK + 1), **OPEN))
    assert row_of(ida, cast.anouk)["signals"] == []
    background.sweep(served)
    assert row_of(ida, cast.anouk)["urgency"] == 3


def test_the_round_says_of_a_danger_what_was_said_at_once(
    cast: Cast, served: Settings, ida: Actor, today: date
) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, **CHEST))
    (at_once,) = row_of(ida, cast.anouk)["signals"]
    background.sweep(served)
    (after,) = row_of(ida, cast.anouk)["signals"]
    assert after == at_once
    story = ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
    (signal,) = [one for one in story["signals"] if one["id"] == after["id"]]
    assert [one["event"] for one in signal["events"]] == ["opened"]


def test_a_round_that_was_overtaken_takes_no_danger_back(cast: Cast, served: Settings, ida: Actor, today: date) -> None:
    """The engine read the log, then a danger came and was told: the older reading says nothing of it."""
    cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=1)))
    db = db_of(cast)
    since = assessments.stale_since(db, cast.anouk.limb_id)
    history = histories.history(db, cast.anouk.limb_id)
    assert history is not None and since is not None
    reading = reassess.assess.assess(history, [today])[0]
    cast.clock.forward(seconds=1)
    cast.anouk.sync(cast.anouk.checkin(today, **CHEST))
    reassess.say(db, [(history, since, reading)], served.now())
    row = row_of(ida, cast.anouk)
    assert row["urgency"] == 3 and row["signals"][0]["holds"]
    assert row["news_at"] == cast.clock.now.isoformat()


def test_a_log_that_can_not_be_read_costs_no_receipt(
    cast: Cast, ida: Actor, today: date, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(*_: Any) -> None:
        raise ValueError("a row of an older shape")

    monkeypatch.setattr("plytide.storage.history.checkins.of_limb", breaks)
    receipt = cast.anouk.sync(cast.anouk.checkin(today, **CHEST)).get_json()["receipts"][0]
    assert receipt["status"] == "kept"
