"""What the clinic asks and enters is answered truly: emergencies first, days to come unknown, no turned-round words."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from tests.actors import Cast, Clock

BLISTER = [{"place": "shin_front", "finding": "blister", "redness_minutes": None}]
TURNED = "call me \u202enot\u202c now"


def rows(cast: Cast) -> list[Any]:
    return list(cast.ida.get("/api/clinic/worklist").get_json()["limbs"])


def test_an_emergency_stands_above_an_older_reason_to_stop_the_wear(cast: Cast, today: date) -> None:
    cast.dov.sync(cast.dov.checkin(today - timedelta(days=3), skin=BLISTER))
    cast.anouk.sync(cast.anouk.checkin(today, signs=["cold_pale_limb"]))
    first, second = rows(cast)[:2]
    assert [first["limb_id"], second["limb_id"]] == [cast.anouk.limb_id, cast.dov.limb_id]
    assert "sort_since" not in first and first["urgency"] == second["urgency"] == 3
    # Page by page it is the same order.
    page = cast.ida.get("/api/clinic/worklist?limit=1").get_json()
    onward = cast.ida.get("/api/clinic/worklist", query_string={"limit": 1, "next": page["next"]}).get_json()
    assert [page["limbs"][0]["limb_id"], onward["limbs"][0]["limb_id"]] == [cast.anouk.limb_id, cast.dov.limb_id]
    # Closed, it steps back.
    for one in first["signals"]:
        cast.ida.made(f"/api/clinic/signals/{one['id']}/close", {"outcome": "Seen and adjusted"})
    assert rows(cast)[0]["limb_id"] == cast.dov.limb_id


def test_the_reason_of_a_row_is_its_first_signal(cast: Cast, today: date) -> None:
    cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=2), skin=BLISTER))
    cast.anouk.sync(cast.anouk.checkin(today, signs=["cold_pale_limb"], pain=9))
    row = next(row for row in rows(cast) if row["limb_id"] == cast.anouk.limb_id)
    assert row["signals"][0]["rule"] == "emergency-cold-limb"
    assert row["why"].startswith(row["signals"][0]["because"])


@pytest.mark.parametrize("path", ["", "/assessment", "/visit-page", "/payer-page"])
def test_a_day_that_has_not_come_is_refused_by_field(cast: Cast, today: date, path: str) -> None:
    where = f"/api/clinic/limbs/{cast.anouk.limb_id}{path}"
    for ahead, status in ((0, 200), (1, 200), (2, 422), (400, 422)):
        answer = cast.ida.get(f"{where}?as_of={today + timedelta(days=ahead)}")
        assert answer.status_code == status, (ahead, answer.get_json())
    assert list(answer.get_json()["error"]["fields"]) == ["as_of"]


@pytest.mark.parametrize(
    "outcome", ["Visit booked", "Booked visit", "booked a visit for Monday", "A visit is booked", "Appointment booked"]
)
def test_nothing_is_closed_as_a_booked_visit_without_a_visit(cast: Cast, today: date, outcome: str) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, skin=BLISTER))
    signal = next(row for row in rows(cast) if row["limb_id"] == cast.anouk.limb_id)["signals"][0]
    path = f"/api/clinic/signals/{signal['id']}/close"
    answer = cast.ida.post(path, {"outcome": outcome})
    assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, ["outcome"])
    assert cast.ida.post(path, {"outcome": "No visit needed"}).status_code == 200


def test_words_that_others_read_can_not_be_turned_round(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today, skin=BLISTER, note=TURNED)
    assert cast.anouk.sync(said).get_json()["receipts"][0]["status"] == "kept"
    assert cast.anouk.sync(said).get_json()["receipts"][0]["status"] == "already"
    story = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
    note = next(one["note"] for each in story["days"] for one in each["checkins"])
    assert note == "call me not now"
    signal = next(row for row in rows(cast) if row["limb_id"] == cast.anouk.limb_id)["signals"][0]
    given = cast.ida.made(f"/api/clinic/signals/{signal['id']}/acknowledge", {"answer": TURNED})
    assert given["events"][-1]["answer"] == "call me not now"
    marks = cast.anouk.checkin(today, note="\u200fمرحبا\u200f 12 kg")  # marks that Arabic needs stay
    cast.anouk.sync(marks)
    story = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
    assert marks["note"] in [one["note"] for each in story["days"] for one in each["checkins"]]


@pytest.mark.parametrize(
    ("number", "status"), [("0" * 40, 422), ("0" * 21, 422), ("+47 22 12 34 56", 200), ("112", 200)]
)
def test_a_telephone_number_has_no_forty_digits(cast: Cast, number: str, status: int) -> None:
    answer = cast.nora.patch("/api/clinic/settings", {"phone": number})
    assert answer.status_code == status
    if status == 422:
        assert list(answer.get_json()["error"]["fields"]) == ["phone"]


def test_a_look_that_says_clear_ends_the_hold_and_is_in_the_signals_life(cast: Cast, today: date, clock: Clock) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, skin=BLISTER))
    row = next(row for row in rows(cast) if row["limb_id"] == cast.anouk.limb_id)
    assert row["state"] == "held"
    clock.forward(minutes=5)
    given = cast.ida.made(
        f"/api/clinic/signals/{row['signals'][0]['id']}/close", {"outcome": "Seen and adjusted", "looked_clear": True}
    )
    assert given["events"][-1]["looked_clear"] is True
    row = next(row for row in rows(cast) if row["limb_id"] == cast.anouk.limb_id)
    assert row["state"] != "held"
