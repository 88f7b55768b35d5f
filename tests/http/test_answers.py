"""What the clinic did about advice reaches the phone that showed it: seen or closed, when, and the clinic's words."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from tests.actors import Actor, Cast, Clock, Wearer, fields_of

BLISTER = [{"place": "shin", "finding": "blister", "redness_minutes": None}]


def said(wearer: Wearer) -> list[Any]:
    seen = wearer.phone.get("/api/me").get_json()["seen"][wearer.limb_id]
    advice: list[Any] = seen["advice"]
    return advice


def signal_of(cast: Cast, wearer: Wearer, rule: str = "stop-wear-skin") -> str:
    rows = cast.ida.get("/api/clinic/worklist").get_json()["limbs"]
    ids = [
        one["id"] for row in rows for one in row["signals"] if one["limb_id"] == wearer.limb_id and one["rule"] == rule
    ]
    return f"/api/clinic/signals/{ids[0]}"


def blister(cast: Cast, on: date) -> Any:
    entry = cast.anouk.checkin(on, skin=BLISTER)
    cast.anouk.sync(entry)
    return entry


def test_it_is_open_then_seen_with_the_clinics_words_then_closed(cast: Cast, today: date, clock: Clock) -> None:
    entry = blister(cast, today)
    path = signal_of(cast, cast.anouk)
    one = {"rule": "stop-wear-skin", "checkins": [entry["id"]]}
    assert said(cast.anouk) == [{**one, "status": "open", "on": None, "answer": None}]
    cast.ida.made(f"{path}/acknowledge", {"answer": "  Leave it off. We call at ten.  "})
    told = {**one, "status": "seen", "on": today.isoformat(), "answer": "Leave it off. We call at ten."}
    assert said(cast.anouk) == [told]
    clock.forward(minutes=3)
    cast.ida.made(f"{path}/close", {"outcome": "Seen and adjusted"})
    assert said(cast.anouk) == [{**told, "status": "closed"}]
    cast.ida.made(f"{path}/undo", {})
    assert said(cast.anouk) == [told]
    cast.ida.made(f"{path}/reopen", {})
    assert said(cast.anouk) == [{**one, "status": "open", "on": None, "answer": None}]


def test_words_that_go_with_putting_off_are_told_too(cast: Cast, today: date) -> None:
    blister(cast, today)
    until = (today + timedelta(days=2)).isoformat()
    cast.ida.made(f"{signal_of(cast, cast.anouk)}/snooze", {"until": until, "answer": "We look on Wednesday."})
    assert [(one["status"], one["answer"]) for one in said(cast.anouk)] == [("seen", "We look on Wednesday.")]


@pytest.mark.parametrize("action", ["acknowledge", "close"])
def test_words_about_one_entry_never_stand_beside_a_later_one(
    cast: Cast, today: date, clock: Clock, action: str
) -> None:
    """ "You may wear it" was said of the first blister, not of the second."""
    first = blister(cast, today)
    path = signal_of(cast, cast.anouk)
    cast.ida.made(f"{path}/{action}", {"outcome": "Seen", "answer": "You may wear it."})
    clock.forward(days=1)
    second = blister(cast, today + timedelta(days=1))
    sign_in_again(cast)
    by_entry = {id_: (one["status"], one["answer"]) for one in said(cast.anouk) for id_ in one["checkins"]}
    assert by_entry[first["id"]][1] == "You may wear it."
    assert by_entry[second["id"]] == ("open", None)


def sign_in_again(cast: Cast) -> None:
    """A round: the session of yesterday has ended, so another signs in."""
    from tests.conftest import signed_in

    signed_in(cast.app, "ida").get("/api/clinic/worklist")


@pytest.mark.parametrize(
    ("action", "given"),
    [
        ("assign", {"answer": "Hello"}),
        ("reopen", {"answer": "Hello"}),
        ("close", {"outcome": "Seen", "answer": "x" * 301}),
    ],
)
def test_words_nobody_would_be_shown_are_refused(cast: Cast, today: date, action: str, given: dict[str, Any]) -> None:
    blister(cast, today)
    assert fields_of(cast.ida.post(f"{signal_of(cast, cast.anouk)}/{action}", given)) == ["answer"]


def test_words_about_what_is_no_advice_are_refused_and_none_are_no_fault(cast: Cast, today: date) -> None:
    cast.anouk.sync(*(cast.anouk.checkin(today - timedelta(days=back), falls=1) for back in (3, 1)))
    rows = cast.ida.get("/api/clinic/worklist").get_json()["limbs"]
    fall = next(one for row in rows for one in row["signals"] if one["kind"] == "fall")
    path = f"/api/clinic/signals/{fall['id']}/acknowledge"
    assert fields_of(cast.ida.post(path, {"answer": "Mind the step."})) == ["answer"]
    assert cast.ida.made(path, {"answer": " "})["status"] == "acknowledged"


def test_a_caregiver_reads_nothing_about_entries_that_are_kept_from_them(cast: Cast, today: date) -> None:
    code = cast.ida.made(f"/api/clinic/people/{cast.bram.id}/enrolment-codes", {"role": "wearer"})["code"]
    token = cast.nobody.made("/api/enrol", {"code": code, "label": "Bram's own"})["token"]
    teen = Wearer(
        "Bram", cast.bram.id, cast.bram.limb_ids, Actor(cast.app, {"Authorization": f"Bearer {token}"}), token
    )
    his = teen.checkin(today, signs=["severe_pain"])
    teen.sync(his)
    cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", {"own_log": True})
    path = signal_of(cast, cast.bram, "stop-wear-pain")
    cast.ida.made(f"{path}/acknowledge", {"answer": "Thank you for telling us about the pain."})
    assert [one["checkins"] for one in said(teen)] == [[his["id"]]]
    assert said(cast.bram) == []
    assert his["id"] not in cast.bram.phone.get("/api/me").get_data(as_text=True)


def test_of_a_matter_of_both_a_caregiver_reads_their_entry_and_not_the_words(cast: Cast, today: date) -> None:
    code = cast.ida.made(f"/api/clinic/people/{cast.bram.id}/enrolment-codes", {"role": "wearer"})["code"]
    token = cast.nobody.made("/api/enrol", {"code": code, "label": "Bram's own"})["token"]
    teen = Wearer(
        "Bram", cast.bram.id, cast.bram.limb_ids, Actor(cast.app, {"Authorization": f"Bearer {token}"}), token
    )
    his, hers = (one.checkin(today, signs=["severe_pain"]) for one in (teen, cast.bram))
    teen.sync(his)
    cast.bram.sync(hers)
    cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", {"own_log": True})
    path = signal_of(cast, cast.bram, "stop-wear-pain")
    cast.ida.made(f"{path}/acknowledge", {"answer": "Thank you for telling us at night."})
    assert [(one["checkins"], one["status"], one["answer"]) for one in said(cast.bram)] == [
        ([hers["id"]], "seen", None)
    ]
    assert [one["answer"] for one in said(teen)] == ["Thank you for telling us at night."]
