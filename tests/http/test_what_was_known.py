"""What was said of a day is read by what was known on it: a fact or a limit entered later rewrites nothing."""

from __future__ import annotations

import json
from datetime import date, timedelta
from typing import Any

import pytest

from tests.actors import Cast, Clock, Wearer
from tests.conftest import bearing, signed_in

RED = [{"place": "shin", "finding": "redness", "redness_minutes": 15}]


def story(cast: Cast, who: Wearer, as_of: date | None = None) -> Any:
    query = {"as_of": as_of.isoformat()} if as_of else {}
    return signed_in(cast.app, "ida").get(f"/api/clinic/limbs/{who.limb_id}", query_string=query).get_json()


def told(cast: Cast, who: Wearer, as_of: date | None = None) -> list[list[str]]:
    """The rules of each entry, newest day first."""
    days = story(cast, who, as_of)["days"]
    return [[advice["rule"] for advice in one["advice"]] for day in days for one in day["checkins"]]


def rules(cast: Cast, who: Wearer) -> set[str | None]:
    ida = signed_in(cast.app, "ida")
    ida.get("/api/clinic/worklist")
    signals = ida.get(f"/api/clinic/limbs/{who.limb_id}").get_json()["signals"]
    return {one["rule"] for one in signals if one["kind"] in ("safety", "skin")}


def tagged(cast: Cast, who: Wearer, *tags: str) -> None:
    answer = signed_in(cast.app, "ida").patch(f"/api/clinic/people/{who.id}", {"tags": list(tags)})
    assert answer.status_code == 200, answer.get_json()


def limit(cast: Cast, minutes: float | None) -> None:
    answer = signed_in(cast.app, "ida").patch("/api/clinic/settings", {"thresholds": {"redness_minutes": minutes}})
    assert answer.status_code == 200, answer.get_json()


def test_a_fact_entered_later_rewrites_no_advice_and_no_signal(cast: Cast, today: date, clock: Clock) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, falls=1))
    clock.forward(days=2)
    tagged(cast, cast.anouk, "blood_thinners")
    assert told(cast, cast.anouk) == [[]]
    assert rules(cast, cast.anouk) == set()
    clock.forward(days=1)
    cast.anouk.sync(cast.anouk.checkin(today + timedelta(days=3), falls=1))
    assert told(cast, cast.anouk) == [["emergency-fall-blood-thinners"], []]
    assert rules(cast, cast.anouk) == {"emergency-fall-blood-thinners"}


def test_a_fact_taken_away_later_takes_away_nothing_that_was_said(cast: Cast, today: date, clock: Clock) -> None:
    tagged(cast, cast.anouk, "blood_thinners")
    cast.anouk.sync(cast.anouk.checkin(today, falls=1))
    assert rules(cast, cast.anouk) == {"emergency-fall-blood-thinners"}
    clock.forward(days=1)
    tagged(cast, cast.anouk)
    assert told(cast, cast.anouk) == [["emergency-fall-blood-thinners"]]
    signal = next(one for one in story(cast, cast.anouk)["signals"] if one["rule"])
    assert signal["holds"] and "blood thinners" in signal["because"]


@pytest.mark.parametrize(("written", "rule"), [("08:00", []), ("18:00", ["emergency-fall-blood-thinners"])])
def test_on_the_day_of_the_change_the_hour_decides(
    cast: Cast, today: date, clock: Clock, written: str, rule: list[str]
) -> None:
    """The phone's own hour of the writing, and an entry about an earlier day that was written after the change."""
    clock.forward(hours=12 - clock.now.hour)
    tagged(cast, cast.anouk, "blood_thinners")
    clock.forward(hours=8)
    stamp = f"{clock.now.date().isoformat()}T{written}:00Z"
    for day in (today, today - timedelta(days=1)):
        cast.anouk.sync(cast.anouk.checkin(day, falls=1, written_at=stamp))
    assert told(cast, cast.anouk) == [rule, rule]


def test_a_limit_changed_later_rewrites_nothing(cast: Cast, today: date, clock: Clock) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, skin=RED))
    clock.forward(days=1)
    limit(cast, 10)
    assert told(cast, cast.anouk) == [[]] and rules(cast, cast.anouk) == set()
    cast.anouk.sync(cast.anouk.checkin(today + timedelta(days=1), skin=RED))
    assert told(cast, cast.anouk) == [["redness-long"], []]
    clock.forward(days=1)
    limit(cast, None)
    assert told(cast, cast.anouk) == [["redness-long"], []]
    assert rules(cast, cast.anouk) == {"redness-long"}
    assert "the limit is 10" in next(one for one in story(cast, cast.anouk)["signals"] if one["rule"])["because"]
    assert story(cast, cast.anouk)["thresholds"]["redness_minutes"] == 20
    assert story(cast, cast.anouk, today)["thresholds"]["redness_minutes"] == 20
    assert story(cast, cast.anouk, today + timedelta(days=1))["thresholds"]["redness_minutes"] == 10


def test_a_replay_knows_only_what_was_known(cast: Cast, today: date, clock: Clock) -> None:
    for back in range(3):
        cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=back)))
    clock.forward(days=2)
    tagged(cast, cast.anouk, "pregnancy", "heart_failure")
    clock.forward(days=2)

    def held(as_of: date | None) -> tuple[bool, list[str], list[str]]:
        found = story(cast, cast.anouk, as_of)
        codes = [one["code"] for one in found["assessment"]["readiness"]["reasons"]]
        return "pregnancy" in codes, found["reading_tags"], found["person"]["tags"]

    assert held(None) == (True, ["heart_failure", "pregnancy"], ["pregnancy", "heart_failure"])
    assert held(today + timedelta(days=2)) == held(None)
    assert held(today + timedelta(days=1)) == (False, [], [])
    plan = signed_in(cast.app, "ida").get(
        f"/api/clinic/limbs/{cast.anouk.limb_id}/plan", query_string={"as_of": today.isoformat()}
    )
    assert plan.get_json()["reading_tags"] == []


def test_a_replay_reads_limb_and_socket_as_they_were_known(cast: Cast, today: date, clock: Clock) -> None:
    """A limit, a shape, a scar and a baseline that were entered two days later are of no day before."""
    limb_id = cast.anouk.limb_id
    for back in range(3):
        cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=back), weight_kg=95))
    worn = story(cast, cast.anouk)["sockets"][-1]
    before = story(cast, cast.anouk)["limb"]
    clock.forward(days=2)
    ida = signed_in(cast.app, "ida")
    reason = {"despite": {"reason": "Told the wearer"}}
    new = {"weight_limit_kg": 80, "stack_at_fitting": [{"ply": 5, "make": "unknown"}], "liner_mm": 3}
    answer = ida.patch(f"/api/clinic/sockets/{worn['id']}", new | reason)
    assert answer.status_code == 200, answer.get_json()
    changed = {"shape": "bulbous", "deep_scar": True, "reference_circumference_mm": 333}
    assert ida.patch(f"/api/clinic/limbs/{limb_id}", changed).status_code == 200
    clock.forward(days=2)

    def seen(as_of: date | None) -> tuple[Any, ...]:
        found = story(cast, cast.anouk, as_of)
        socket = found["sockets"][-1]
        codes = {one["code"] for one in found["assessment"]["readiness"]["reasons"]}
        query = {"as_of": as_of.isoformat()} if as_of else {}
        plan = signed_in(cast.app, "ida").get(f"/api/clinic/limbs/{limb_id}/plan", query_string=query)
        over = "80 kg" in json.dumps(plan.get_json())
        return (
            "weight-over-limit" in codes,
            over,
            {name: socket[name] for name in new},
            {name: found["limb"][name] for name in changed},
        )

    assert seen(None) == (True, True, new, changed)
    assert seen(today + timedelta(days=2)) == seen(None)
    was = (False, False, {name: worn[name] for name in new}, {name: before[name] for name in changed})
    assert seen(today + timedelta(days=1)) == was == seen(today)


def test_a_socket_entered_later_is_of_no_replay_before(cast: Cast, today: date, clock: Clock) -> None:
    """It was fitted, but nobody here had written it down: the line of that day was drawn against the one before."""
    for back in range(3):
        cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=back)))
    clock.forward(days=3)
    new = {"fitted_on": today.isoformat(), "purpose": "definitive", "stack_at_fitting": []}
    ida = signed_in(cast.app, "ida")
    added = ida.made(f"/api/clinic/limbs/{cast.anouk.limb_id}/sockets", new | {"despite": {"reason": "Entered late"}})

    def sockets(as_of: date | None) -> list[str]:
        return [one["id"] for one in story(cast, cast.anouk, as_of)["sockets"]]

    assert added["id"] in sockets(None) and added["id"] in sockets(today + timedelta(days=3))
    assert sockets(None)[:-1] == sockets(today) == sockets(today + timedelta(days=2))


def test_limbs_and_sockets_that_did_not_change_leave_no_trace(cast: Cast, clock: Clock) -> None:
    ida = signed_in(cast.app, "ida")
    worn = story(cast, cast.anouk)["sockets"][-1]
    ida.patch(f"/api/clinic/sockets/{worn['id']}", {"note": "Seen", "weight_limit_kg": worn["weight_limit_kg"]})
    ida.patch(f"/api/clinic/limbs/{cast.anouk.limb_id}", {"side": story(cast, cast.anouk)["limb"]["side"]})
    held = json.loads(ida.get(f"/api/clinic/people/{cast.anouk.id}/export.json").get_data())["held"]
    assert {"limb", "socket"} <= held.keys() and not {"limb_before", "socket_before"} & held.keys()


def test_the_phone_is_told_what_held_before_so_that_both_say_the_same(cast: Cast, clock: Clock) -> None:
    clock.forward(days=1)
    tagged(cast, cast.anouk, "diabetes")
    changed = clock.now.isoformat()
    clock.forward(days=1)
    limit(cast, 30)
    (person,) = cast.anouk.phone.get("/api/me").get_json()["people"]
    assert person["tags"] == ["diabetes"]
    assert person["profile_before"] == [
        {"until": changed, "tags": [], "born_on": person["born_on"], "redness_minutes": 20.0},
        {"until": clock.now.isoformat(), "tags": ["diabetes"], "born_on": person["born_on"], "redness_minutes": 20.0},
    ]


def test_what_changes_nothing_is_no_change(cast: Cast, clock: Clock) -> None:
    tagged(cast, cast.anouk)
    signed_in(cast.app, "ida").patch(f"/api/clinic/people/{cast.anouk.id}", {"ask_for": "Jo"})
    signed_in(cast.app, "ida").patch("/api/clinic/settings", {"words": {}})
    (person,) = cast.anouk.phone.get("/api/me").get_json()["people"]
    assert [one for one in person["profile_before"] if one["tags"]] == []
    assert len({(tuple(one["tags"]), one["redness_minutes"]) for one in person["profile_before"]}) <= 1


def test_what_a_caregivers_phone_said_stands_in_its_own_words(cast: Cast, today: date) -> None:
    cast.bram.sync(cast.bram.checkin(today, signs=["fall_cannot_bear_weight"]))
    (day,) = story(cast, cast.bram)["days"]
    (advice,) = day["checkins"][0]["advice"]
    assert advice["do"].startswith(f"{cast.bram.name.split()[0]} fell and can not put weight on the leg.")


def because(cast: Cast, who: Wearer) -> dict[str | None, str]:
    signed_in(cast.app, "ida").get("/api/clinic/worklist")
    return {one["rule"]: one["because"] for one in story(cast, who)["signals"]}


def test_a_signal_says_who_was_told_and_in_which_words(cast: Cast, today: date, clock: Clock) -> None:
    """A caregiver's phone speaks of the wearer by name; who is called at the clinic's end reads the same."""
    for who in (cast.bram, cast.anouk):
        tagged(cast, who, "heart_failure")
        who.sync(who.checkin(today, weight_kg=30, falls=0), who.checkin(today, weight_kg=33, signs=["sock_stuck"]))
    name = cast.bram.name.split()[0]
    told = because(cast, cast.bram)
    assert f"The caregiver was told: “Call {name}’s heart team”." in told["heart-team"]
    assert "The caregiver was told: “Do not wear the socket now”." in told["stop-wear-skin"]
    assert "wearer" not in " ".join(told.values())
    own = because(cast, cast.anouk)
    assert "The wearer was told: “Call your heart team”." in own["heart-team"]
    assert "caregiver" not in " ".join(own.values())


def test_of_two_phones_the_signal_names_the_one_that_spoke(cast: Cast, today: date, clock: Clock) -> None:
    code = cast.ida.made(f"/api/clinic/people/{cast.bram.id}/enrolment-codes", {"role": "wearer"})["code"]
    own = bearing(cast.app, cast.nobody.made("/api/enrol", {"code": code, "label": "His own"})["token"])
    said = cast.bram.checkin(today, signs=["sock_stuck"])
    own.made("/api/sync", {"schema": 1, "cursor": None, "checkins": [said]})
    assert "The wearer was told" in because(cast, cast.bram)["stop-wear-skin"]
    clock.forward(days=1)
    cast.bram.sync(cast.bram.checkin(today + timedelta(days=1), signs=["sock_stuck"]))
    assert "The caregiver was told" in because(cast, cast.bram)["stop-wear-skin"]


def test_an_entry_of_a_caregiver_that_could_not_be_kept_says_so_too(cast: Cast, today: date) -> None:
    """Heard of, then taken back on the phone: both times it was the caregiver who read the advice."""
    said = cast.bram.checkin(today, signs=["sock_stuck"], hours_worn=30)
    cast.bram.sync(said)
    assert "The caregiver was told" in because(cast, cast.bram)["stop-wear-skin"]
    cast.bram.sync({**said, "signs": [], "hours_worn": 8})
    assert "The caregiver was told" in because(cast, cast.bram)["stop-wear-skin"]
