"""The demo's clinic has a past: rounds on its days, staff who dealt with what they heard, and answers to wearers."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from plytide.http.app import create_app
from plytide.settings import from_environment
from plytide.storage import history as histories
from plytide.storage import signals
from plytide.storage.clinics import open_clinic
from plytide.storage.registry.registry import Registry
from plytide.work import reassess, signal_life
from seed_demo.__main__ import ABOUT, LOGIN, PASSWORD, fill
from seed_demo.door import AppDoor, sign_in
from seed_demo.practice import Practice

PEOPLE, DAYS = 12, 80


class Filled:
    """A small demo clinic on the disk, and its app."""

    def __init__(self, folder: Path) -> None:
        self.today = datetime.now(UTC).date()
        fill(folder, PEOPLE, DAYS, 1)
        self.app = create_app(replace(from_environment(folder), sweep_seconds=0))
        registry = Registry(folder)
        (self.clinic_id, _), *_ = registry.clinic_files()
        self.db = open_clinic(folder, registry, self.clinic_id)
        registry.close()
        phones = json.loads((folder / ABOUT).read_text())["phones"]
        self.limbs = sorted({limb_id for phone in phones for limb_id in phone["limb_ids"]})
        self.staff = sign_in(AppDoor(self.app), LOGIN, PASSWORD)

    def events(self) -> list[dict[str, Any]]:
        found = [
            event | {"kind": signal["kind"], "opened_at": signal["opened_at"]}
            for limb_id in self.limbs
            for signal in signals.of_limb(self.db, limb_id)
            for event in signals.events_of(self.db, signal["id"])
        ]
        return sorted(found, key=lambda event: event["at"])

    def replay(self, limb_id: str, day: date) -> Any:
        return self.staff.call("GET", f"/api/clinic/limbs/{limb_id}?as_of={day.isoformat()}")


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Filled:
    return Filled(tmp_path_factory.mktemp("past"))


def test_signals_were_opened_over_all_of_its_days(filled: Filled) -> None:
    days = sorted({event["at"][:10] for event in filled.events() if event["event"] == "opened"})
    assert len(days) > 8
    assert date.fromisoformat(days[0]) < filled.today - timedelta(days=40)


def test_staff_dealt_with_them_the_morning_after_or_later_and_told_wearers(filled: Filled) -> None:
    events = filled.events()
    deeds = [event for event in events if event["by"]]
    assert Counter(event["event"] for event in deeds).keys() >= {"acknowledge", "close"}
    assert all(event["at"] > event["opened_at"] for event in deeds)
    assert any(event.get("answer") for event in deeds if event["kind"] in ("skin", "safety"))
    assert {event["outcome"] for event in deeds if event["event"] == "close"}


def test_what_is_new_is_left_for_who_opens_the_demo(filled: Filled) -> None:
    fresh = (filled.today - timedelta(days=2)).isoformat()
    assert [event for event in filled.events() if event["by"] and event["opened_at"][:10] >= fresh] == []


def test_the_record_tells_it_in_the_order_in_which_it_happened(filled: Filled) -> None:
    """The audit chain's lines are in order of time: nothing was entered behind its own day."""
    office = sign_in(AppDoor(filled.app), "office", PASSWORD)
    at: list[str] = []
    onward = ""
    while True:
        page = office.call("GET", f"/api/clinic/audit?limit=200{onward}")
        at += [
            line["at"] for line in page["lines"] if line["what"] not in ("session.open", "staff.add", "clinic.found")
        ]
        if page["next"] is None:
            break
        onward = f"&next={page['next']}"
    lines = at[::-1]
    assert lines[3:] == sorted(lines[3:])


@pytest.mark.parametrize("back", [1, 8])
def test_what_was_said_on_a_day_is_what_the_engine_reads_of_what_had_arrived(filled: Filled, back: int) -> None:
    """The one pass over all days says what a round of each day by itself would have said."""
    day = filled.today - timedelta(days=back)
    for limb_id in filled.limbs:
        story = filled.replay(limb_id, day)
        said = {one["kind"] for one in story["signals"] if one["holds"]}
        assert said == {one["kind"] for one in story["assessment"]["signals"]}, (limb_id, day)


def test_no_day_of_any_limb_has_a_matter_without_its_signal(filled: Filled) -> None:
    """A round each evening, of limbs whose phones were silent too: a wide sample of days, drawn for each limb."""
    draw = np.random.default_rng(11)
    lacking, asked = [], 0
    for limb_id in filled.limbs:
        for back in sorted(draw.choice(np.arange(1, DAYS - 2), 8, replace=False).tolist()):
            day = filled.today - timedelta(days=back)
            until = (day + timedelta(days=1)).isoformat() + "T00:00:00"
            history = histories.history(filled.db, limb_id, until)
            assert history is not None
            if not history.checkins or history.checkins[0].date > day:
                continue  # had not joined
            asked += 1
            found = reassess.current(filled.db, history, datetime.now(UTC), day, until)
            stood = {(one["kind"], one["rule"]) for one in signal_life.as_they_stood(filled.db, limb_id, until)}
            lacking += [(limb_id, str(day), one.kind, one.rule) for one in found.signals
                        if (one.kind, one.rule) not in stood]  # fmt: skip
    assert asked > 70
    assert not lacking, Counter(each[2] for each in lacking).items() and lacking[:6]


def test_a_measurement_was_known_on_its_day(filled: Filled) -> None:
    for limb_id in filled.limbs:
        taken = [one["on"] for one in filled.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["measurements"]]
        joined = [each for each in taken if each >= (filled.today - timedelta(days=DAYS - 10)).isoformat()]
        for on in joined[:1]:
            assert on in [one["on"] for one in filled.replay(limb_id, date.fromisoformat(on))["measurements"]]


def test_it_says_how_it_is_reached_and_who_agreed_to_its_rules(filled: Filled) -> None:
    contact = filled.staff.call("GET", "/api/clinic/settings")
    assert contact["hours"] and contact["zone"] and contact["out_of_hours_phone"]
    found = filled.staff.call("GET", "/api/clinic/safety-rules")
    assert (found["state"], found["agreements"][0]["by"]) == ("agreed", "Clinic office")


def test_the_demos_staff_enter_the_visit_they_say_is_booked() -> None:
    """A demo of any size fills: the clinic refuses a visit booked that nobody entered."""
    practice = object.__new__(Practice)
    practice.rng = np.random.default_rng(1)
    day = date(2026, 11, 4)
    signal = {"opened_at": "2026-11-01T08:00:00Z", "level": "call", "kind": "volume-loss", "status": "open", "holds": 0}
    deeds = [deed for _ in range(60) if (deed := practice.deed_for(signal, day, date(2026, 12, 31)))]
    booked = [given for action, given in deeds if given.get("outcome") == "Visit booked"]
    assert booked
    assert all(date.fromisoformat(given["visit"]["on"]) > day for given in booked)
