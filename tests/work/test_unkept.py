"""A danger said in an entry that could not be kept: the clinic hears of it, once; the phone is told what to mend."""

from __future__ import annotations

import json
from datetime import date, timedelta
from typing import Any

import pytest

from tests.actors import Cast, Clock, Json
from tests.conftest import signed_in

BLISTER = {"place": "shin_front", "finding": "blister", "redness_minutes": None}


def receipt(answer: Any) -> Json:
    assert answer.status_code == 200, answer.get_json()
    (one,) = answer.get_json()["receipts"]
    return dict(one)


def row_of(cast: Cast) -> Json:
    """The limb's row, for somebody who has just signed in: days may have passed."""
    rows = signed_in(cast.app, "ida").get("/api/clinic/worklist").get_json()["limbs"]
    return next(dict(row) for row in rows if row["limb_id"] == cast.anouk.limb_id)


def dangers(cast: Cast) -> list[Json]:
    row = row_of(cast)
    return [one for one in row["signals"] if one["rule"]]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("hours_worn", 30),
        ("note", "x" * 1001),
        ("date", "2031-01-01"),
        ("date", "yesterday"),
        ("date", "2025-02-02"),  # before the amputation
        ("weight_kg", 4000),
        ("stack", "3 ply"),
        ("comfort", 55),
        ("surprise", 1),
        ("id", 7),
        ("pain", "very"),
        ("skin", [{"place": "shin_front", "finding": "not-a-finding"}]),
        ("signs", ["chest_pain_or_breathless", "no-such-sign"]),
        ("falls", 21),
        ("replaces", "x y"),
    ],
)
def test_the_clinic_hears_a_danger_whose_entry_was_refused_for_a_field(
    cast: Cast, today: date, field: str, value: Any
) -> None:
    bad = cast.anouk.checkin(today, **{"signs": ["chest_pain_or_breathless"], field: value})
    said = receipt(cast.anouk.sync(bad))
    assert (said["status"], said["danger"]) == ("refused", "heard")
    assert [name.partition("[")[0].partition(".")[0] for name in said["errors"]] == [field]
    (chest, *_) = [one for one in dangers(cast) if one["rule"] == "emergency-chest"]
    assert chest["level"] == "urgent" and chest["kind"] == "safety"
    assert "could not be kept" in chest["because"]
    assert chest["since"] <= today.isoformat()


@pytest.mark.parametrize(
    ("said", "rule"),
    [
        ({"skin": [BLISTER]}, "stop-wear-skin"),
        ({"skin": "blister"}, "stop-wear-skin"),
        ({"skin": [{"finding": "Open skin"}]}, "stop-wear-skin"),
        ({"signs": {"bleeding-not-stopping": True, "fever_or_shivering": False}}, "emergency-bleeding"),
        ({"signs": ["Chest_Pain_Or_Breathless"]}, "emergency-chest"),
        ({"skin": [{"finding": "blister"}]}, "stop-wear-skin"),
        ({"pain": 10}, "stop-wear-pain"),
        ({"pain": 12}, "stop-wear-pain"),
        ({"comfort": 0}, "comfort-low"),
        ({"skin": [{"place": "shin_front", "finding": "redness", "redness_minutes": 45}]}, "redness-long"),
    ],
)
def test_every_part_that_can_be_read_is_heard(cast: Cast, today: date, said: Json, rule: str) -> None:
    assert receipt(cast.anouk.sync(cast.anouk.checkin(today, **said, hours_worn=30)))["danger"] == "heard"
    rules = [one["rule"] for one in dangers(cast)]
    assert rule in rules or any(each and each.startswith(rule.split("-")[0]) for each in rules), rules


@pytest.mark.parametrize(("pain", "said"), [(12, True), (10, False)])
def test_a_number_that_is_none_of_its_scale_is_told_towards_the_danger_and_that_it_was_none(
    cast: Cast, today: date, pain: int, said: bool
) -> None:
    receipt(cast.anouk.sync(cast.anouk.checkin(today, pain=pain, hours_worn=30)))
    (told,) = [one for one in dangers(cast) if one["rule"] == "stop-wear-pain"]
    assert "10 of 10" in told["because"]
    assert ("no value of its scale" in told["because"]) is said


def test_what_says_no_danger_leaves_nothing_behind(cast: Cast, today: date) -> None:
    said = receipt(cast.anouk.sync(cast.anouk.checkin(today, hours_worn=30)))
    assert (said["status"], "danger" in said) == ("refused", False)
    assert dangers(cast) == []


def test_a_danger_for_a_limb_that_is_not_this_phones_is_not_heard(cast: Cast, today: date) -> None:
    other = {
        **cast.anouk.checkin(today, signs=["chest_pain_or_breathless"], hours_worn=30),
        "limb_id": cast.bram.limb_id,
    }
    assert "danger" not in receipt(cast.anouk.sync(other))
    row = next(
        one for one in cast.ida.get("/api/clinic/worklist").get_json()["limbs"] if one["limb_id"] == cast.bram.limb_id
    )
    assert [one for one in row["signals"] if one["rule"]] == []


def test_mended_it_is_one_danger_with_the_entry_as_its_evidence(cast: Cast, today: date) -> None:
    bad = cast.anouk.checkin(today, signs=["chest_pain_or_breathless"], hours_worn=30)
    cast.anouk.sync(bad)
    assert "hours worn" in dangers(cast)[0]["because"]
    assert receipt(cast.anouk.sync({**bad, "hours_worn": 3}))["status"] == "kept"
    (signal,) = dangers(cast)
    assert signal["evidence"] == [bad["id"]] and signal["holds"]
    assert "could not be kept" not in signal["because"]


def test_sent_again_unmended_it_is_not_doubled(cast: Cast, today: date) -> None:
    bad = cast.anouk.checkin(today, signs=["chest_pain_or_breathless"], hours_worn=30)
    for _ in range(3):
        cast.anouk.sync(bad)
    assert len(dangers(cast)) == 1
    assert len(dangers(cast)[0]["evidence"]) == 1


def test_mended_without_the_danger_it_stays_open_until_somebody_closes_it(cast: Cast, today: date) -> None:
    bad = cast.anouk.checkin(today, signs=["chest_pain_or_breathless"], hours_worn=30)
    cast.anouk.sync(bad)
    assert len(dangers(cast)) == 1
    assert receipt(cast.anouk.sync({**bad, "signs": [], "hours_worn": 3}))["status"] == "kept"
    (signal,) = dangers(cast)
    assert (signal["holds"], signal["status"]) == (False, "open")


def test_a_danger_told_of_and_later_taken_back_says_so_and_what_other_entries_hold_goes_on(
    cast: Cast, today: date
) -> None:
    first, other = (cast.anouk.checkin(today - timedelta(days=ago), signs=["cold_pale_limb"]) for ago in (1, 2))
    cast.anouk.sync(first, other)
    assert dangers(cast)[0]["holds"]
    cast.anouk.sync({**cast.anouk.checkin(today), "date": first["date"], "replaces": first["id"]})
    (signal,) = dangers(cast)
    assert signal["holds"] and "taken back" not in signal["because"]
    cast.anouk.sync({**cast.anouk.checkin(today), "date": other["date"], "replaces": other["id"]})
    (signal,) = dangers(cast)
    assert not signal["holds"] and f"taken back on {today.day}" in signal["because"], signal["because"]


def test_an_entry_that_was_begun_and_not_saved_is_heard_and_taken_over_by_the_saved_one(
    cast: Cast, today: date, clock: Clock
) -> None:
    """The phone sends what was tapped, without socks: never an entry, always heard."""
    whole = cast.anouk.checkin(today, signs=["cold_pale_limb"])
    begun = {name: value for name, value in whole.items() if name not in ("stack", "comfort")}
    said = receipt(cast.anouk.sync(begun))
    assert (said["status"], said["danger"]) == ("refused", "heard")
    assert "begun" in dangers(cast)[0]["because"]
    clock.forward(hours=1)
    assert receipt(cast.anouk.sync(whole))["status"] == "kept"
    (signal,) = dangers(cast)
    assert signal["evidence"] == [whole["id"]] and "begun" not in signal["because"]
    # What comes late, after the saved entry, changes nothing.
    cast.anouk.sync(begun)
    assert len(dangers(cast)) == 1 and "begun" not in dangers(cast)[0]["because"]


def test_a_begun_entry_taken_back_ends_what_was_said(cast: Cast, today: date) -> None:
    whole = cast.anouk.checkin(today, signs=["cold_pale_limb"])
    begun = {name: value for name, value in whole.items() if name not in ("stack", "comfort")}
    cast.anouk.sync(begun)
    assert dangers(cast)[0]["holds"]
    cast.anouk.sync({**begun, "signs": []})
    assert not dangers(cast)[0]["holds"]


def test_a_blister_of_a_refused_entry_holds_a_recast_and_ends_by_looks_and_the_clinics_word(
    cast: Cast, today: date, clock: Clock
) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, skin=[BLISTER], hours_worn=30))
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    assert row["state"] == "held"
    for signal in row["signals"]:
        cast.ida.made(f"/api/clinic/signals/{signal['id']}/acknowledge", {})
    for _ in range(2):
        clock.forward(days=1)
        day = date.fromisoformat(clock().date().isoformat())
        cast.anouk.sync(cast.anouk.checkin(day, skin_checked=True, signs_checked=True))
    row = row_of(cast)
    assert row["state"] != "held"


def test_it_is_in_what_is_held_of_a_person_and_goes_with_them(cast: Cast, today: date) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, signs=["cold_pale_limb"], hours_worn=30))
    export = json.loads(cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/export.json").get_data())
    (row,) = export["held"]["unkept"]
    assert row["body"]["signs"] == ["cold_pale_limb"]


def test_a_replay_of_the_day_before_knows_nothing_of_it(cast: Cast, today: date, clock: Clock) -> None:
    clock.forward(days=2)
    later = today + timedelta(days=2)
    cast.anouk.sync(cast.anouk.checkin(later, signs=["cold_pale_limb"], hours_worn=30))
    assert len(dangers(cast)) == 1
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}/assessment?as_of={today + timedelta(days=1)}"
    assert [
        one for one in signed_in(cast.app, "ida").get(path).get_json()["signals"] if one["rule"] if "rule" in one
    ] == []
