"""Cases found by trying the clinic as a wearer and as a prosthetist would: danger that was not heard, words untrue."""

from __future__ import annotations

import json
from datetime import date, timedelta
from typing import Any

import pytest

from plytide.engine.staff_words import PLACE
from tests.actors import Actor, Cast, Clock, Json, Wearer, checkin
from tests.conftest import LEFT, RIGHT, SOCKET, bearing, signed_in

COLD = ["cold_pale_limb"]
BLISTER = {"place": "shin_front", "finding": "blister", "redness_minutes": None}
DAY = timedelta(days=1)


def wearer(cast: Cast, *tags: str, limbs: tuple[Json, ...] = (LEFT,)) -> Wearer:
    """A new person of whom something is known, with a socket on each limb and a phone."""
    ida = signed_in(cast.app, "ida")
    person = ida.made("/api/clinic/people", {"name": "Ilse", "born_on": "1950-03-04", "tags": list(tags)})
    ids = []
    for limb in limbs:
        ids.append(ida.made(f"/api/clinic/people/{person['id']}/limbs", limb)["id"])
        ida.made(f"/api/clinic/limbs/{ids[-1]}/sockets", SOCKET)
    wanted = {"role": "wearer", "person_ids": [person["id"]]}
    code = ida.made(f"/api/clinic/people/{person['id']}/enrolment-codes", wanted)["code"]
    token = Actor(cast.app).made("/api/enrol", {"code": code, "label": "Phone"})["token"]
    return Wearer("Ilse", person["id"], tuple(ids), bearing(cast.app, token), token)


def receipts(answer: Any) -> list[Json]:
    assert answer.status_code == 200, answer.get_json()
    return list(answer.get_json()["receipts"])


def row_of(cast: Cast, limb_id: str) -> Json:
    rows = signed_in(cast.app, "ida").get("/api/clinic/worklist?limit=200").get_json()["limbs"]
    return next(dict(row) for row in rows if row["limb_id"] == limb_id)


def rules(cast: Cast, *limb_ids: str) -> list[str]:
    return [one["rule"] for limb in limb_ids for one in row_of(cast, limb)["signals"] if one["rule"]]


def signal_of(cast: Cast, limb_id: str, rule: str) -> Json:
    return next(dict(one) for one in row_of(cast, limb_id)["signals"] if one["rule"] == rule)


def act(cast: Cast, signal: Json, action: str, **given: Any) -> int:
    return int(signed_in(cast.app, "ida").post(f"/api/clinic/signals/{signal['id']}/{action}", given).status_code)


def clear(who: Wearer, on: date, **said: Any) -> Json:
    return who.checkin(on, skin_checked=True, signs_checked=True, **said)


def settled(cast: Cast, today: date) -> Wearer:
    """Forty quiet days: what would be steady if nothing held it."""
    who = wearer(cast)
    receipts(who.sync(*(clear(who, today - n * DAY) for n in range(40, 0, -1))))
    assert row_of(cast, who.limb_id)["state"] == "steady"
    return who


def test_a_fast_gain_of_a_weak_heart_is_heard_though_each_weight_was_logged_with_another_leg(
    cast: Cast, today: date
) -> None:
    """A person has one weight, and two legs to log it with."""
    who = wearer(cast, "heart_failure", limbs=(LEFT, RIGHT))
    receipts(who.sync(checkin(who.limb_ids[0], today - DAY, weight_kg=80)))
    receipts(who.sync(checkin(who.limb_ids[1], today, weight_kg=84)))
    assert "heart-team" in rules(cast, *who.limb_ids)


def test_a_closed_skin_does_not_lift_the_hold_of_an_emergency_that_nobody_answered(
    cast: Cast, today: date, clock: Clock
) -> None:
    who = settled(cast, today)
    receipts(who.sync(who.checkin(today, signs=COLD, skin=[BLISTER])))
    skin = signal_of(cast, who.limb_id, "stop-wear-skin")
    clock.forward(days=1)
    assert act(cast, skin, "close", outcome="Seen", looked_clear=True) == 200
    cold = signal_of(cast, who.limb_id, "emergency-cold-limb")
    assert (cold["status"], cold["holds"]) == ("open", True)
    assert row_of(cast, who.limb_id)["state"] == "held"


@pytest.mark.parametrize("said", [{"signs": COLD}, {"pain": 10}, {"signs": ["swollen_warm_painful"]}])
def test_a_limb_is_never_steady_over_an_urgent_danger_that_nobody_at_the_clinic_has_seen(
    cast: Cast, today: date, clock: Clock, said: Json
) -> None:
    who = settled(cast, today)
    receipts(who.sync(who.checkin(today, **said)))
    assert row_of(cast, who.limb_id)["state"] == "held"
    for n in (1, 2):
        clock.forward(days=1)
        receipts(who.sync(clear(who, today + n * DAY)))
    row = row_of(cast, who.limb_id)
    assert [one["status"] for one in row["signals"] if one["rule"]] == ["open"]
    assert row["state"] == "held"


def test_one_entry_whose_words_are_broken_does_not_silence_the_others(cast: Cast, today: date) -> None:
    """Half an emoji in a note: each entry has a receipt of its own, and the danger beside it is heard."""
    entries = [cast.anouk.checkin(today, note="ouch \ud83d"), cast.anouk.checkin(today, signs=COLD)]
    headers = {**cast.anouk.phone.headers, "Content-Type": "application/json"}
    body = json.dumps({"schema": 1, "cursor": None, "checkins": entries})
    answer = cast.app.test_client(use_cookies=False).post("/api/sync", data=body, headers=headers)
    assert [one["status"] for one in receipts(answer)] == ["refused", "kept"]
    assert rules(cast, cast.anouk.limb_id) == ["emergency-cold-limb"]


@pytest.mark.parametrize("hours", [3, 30])
def test_a_gain_over_a_weight_that_could_not_be_kept_is_heard(cast: Cast, today: date, hours: int) -> None:
    """The phone counts the weights of all its entries, and has told the wearer to call the heart team."""
    who = wearer(cast, "heart_failure")
    assert receipts(who.sync(who.checkin(today - DAY, weight_kg=80, hours_worn=30)))[0]["status"] == "refused"
    receipts(who.sync(who.checkin(today, weight_kg=84, hours_worn=hours)))
    assert rules(cast, who.limb_id) == ["heart-team"]


def test_days_without_a_weight_do_not_clear_a_fast_gain(cast: Cast, today: date, clock: Clock) -> None:
    who = wearer(cast, "heart_failure")
    receipts(who.sync(who.checkin(today - DAY, weight_kg=80), who.checkin(today, weight_kg=84)))
    assert signal_of(cast, who.limb_id, "heart-team")["holds"]
    for n in (1, 2):
        clock.forward(days=1)
        receipts(who.sync(clear(who, today + n * DAY)))
    assert signal_of(cast, who.limb_id, "heart-team")["holds"]


@pytest.mark.parametrize("first", ["kept", "refused", "begun"])
def test_a_danger_that_came_and_was_taken_back_before_a_round_is_told_all_the_same(
    cast: Cast, today: date, first: str
) -> None:
    """Whether the clinic is told does not hang on whether a round fell between the two calls."""
    who = wearer(cast)
    said = who.checkin(today, signs=COLD)
    if first == "kept":
        receipts(who.sync(said))
        back = {**who.checkin(today), "replaces": said["id"]}
    else:
        bad = {**said, "hours_worn": 30}
        if first == "begun":
            bad = {name: value for name, value in said.items() if name not in ("stack", "comfort")}
        assert receipts(who.sync(bad))[0]["danger"] == "heard"
        back = {**said, "signs": []}
    assert receipts(who.sync(back))[0]["status"] == "kept"
    assert rules(cast, who.limb_id) == ["emergency-cold-limb"]


@pytest.mark.parametrize("order", ["BAC", "AB", "BA, C", "ABC"])
@pytest.mark.parametrize("said", [{"signs": COLD}, {"skin": [BLISTER]}])
def test_a_danger_is_told_whatever_takes_its_place_in_the_same_call(
    cast: Cast, today: date, order: str, said: Json
) -> None:
    """A is the danger and corrects B; C corrects B, too. Which of them stands hangs on the order; that A was said does
    not."""
    who = wearer(cast)
    entries = {"B": who.checkin(today)}
    entries["A"] = {**who.checkin(today, **said), "replaces": entries["B"]["id"]}
    entries["C"] = {**who.checkin(today), "replaces": entries["B"]["id"]}
    for call in order.split(", "):
        got = receipts(who.sync(*(entries[name] for name in call)))
        assert {one["status"] for one in got} == {"kept"}
    (rule,) = rules(cast, who.limb_id)
    signal = signal_of(cast, who.limb_id, rule)
    assert signal["status"] == "open"
    assert entries["A"]["id"] in signal["evidence"]


def test_a_danger_first_of_many_that_is_overtaken_by_the_last_is_told(cast: Cast, today: date) -> None:
    who = wearer(cast)
    last = who.checkin(today)
    first = {**who.checkin(today, signs=COLD), "replaces": last["id"]}
    between = [who.checkin(today - n % 150 * DAY) for n in range(300)]
    assert {one["status"] for one in receipts(who.sync(first, *between, last))} == {"kept"}
    assert first["id"] in signal_of(cast, who.limb_id, "emergency-cold-limb")["evidence"]


def test_a_danger_behind_the_correction_of_its_correction_is_told(cast: Cast, today: date) -> None:
    """A comes last of a line whose middle was kept before; what corrects that in A's call takes A's place."""
    who = wearer(cast)
    danger = who.checkin(today, signs=COLD)
    middle = {**who.checkin(today), "replaces": danger["id"]}
    last = {**who.checkin(today), "replaces": middle["id"]}
    for call in ([middle], [danger, last]):
        assert {one["status"] for one in receipts(who.sync(*call))} == {"kept"}
    signal = signal_of(cast, who.limb_id, "emergency-cold-limb")
    assert (signal["status"], danger["id"] in signal["evidence"]) == ("open", True)


def test_what_comes_late_of_an_earlier_day_is_said_beside_the_newest(cast: Cast, today: date, clock: Clock) -> None:
    """Under one rule fall many findings: by the words of the newest day alone the others would be closed unseen."""
    who = wearer(cast)
    receipts(who.sync(who.checkin(today, skin=[BLISTER])))
    skin = signal_of(cast, who.limb_id, "stop-wear-skin")
    assert act(cast, skin, "acknowledge") == 200
    clock.forward(days=1)
    late = {**BLISTER, "finding": "discharge"}
    receipts(who.sync(who.checkin(today - DAY, skin=[late])))
    for _ in range(2):  # in the call itself, and by the round behind it
        said = signal_of(cast, who.limb_id, "stop-wear-skin")["because"]
        assert said.startswith("Blister"), said
        assert f"Beside it: Discharge ({PLACE['shin_front']}), reported on {today - DAY:%-d %B}." in said, said
    again = who.checkin(today + DAY, skin=[BLISTER])
    receipts(who.sync(again))
    assert (
        signal_of(cast, who.limb_id, "stop-wear-skin")["because"].count("Beside it") == 1
    )  # the same once more adds nothing


def test_opened_again_after_a_clear_look_it_holds_again(cast: Cast, today: date, clock: Clock) -> None:
    who = settled(cast, today)
    receipts(who.sync(who.checkin(today, skin=[BLISTER])))
    skin = signal_of(cast, who.limb_id, "stop-wear-skin")
    clock.forward(days=1)
    assert act(cast, skin, "close", outcome="Seen", looked_clear=True) == 200
    assert row_of(cast, who.limb_id)["state"] != "held"
    assert act(cast, skin, "reopen") == 200
    assert signal_of(cast, who.limb_id, "stop-wear-skin")["holds"]
    assert row_of(cast, who.limb_id)["state"] == "held"


@pytest.mark.parametrize("today_too", [True, False])
def test_a_gain_in_the_first_week_of_a_dialysis_log_is_heard(cast: Cast, today: date, today_too: bool) -> None:
    """What day of the cycle the first weight was on is not known, so it counts: a call too many is the lesser harm."""
    who = wearer(cast, "heart_failure", "dialysis")
    first = who.checkin(today - 2 * DAY, weight_kg=80, tags=["dialysis"])
    receipts(who.sync(first, who.checkin(today, weight_kg=85, tags=["dialysis"] if today_too else [])))
    assert [one["kind"] for one in row_of(cast, who.limb_id)["signals"] if one["level"] == "call"]


@pytest.mark.parametrize(
    ("said", "rule"),
    [
        ({"pain": 9.5}, "stop-wear-pain"),
        ({"pain": "10"}, "stop-wear-pain"),
        ({"signs": "cold_pale_limb"}, "emergency-cold-limb"),
        ({"skin": BLISTER}, "stop-wear-skin"),
        ({"skin": [{**BLISTER, "finding": "redness", "redness_minutes": "200"}]}, "redness-long"),
        ({"signs": COLD, "limb_id": None}, "emergency-cold-limb"),
    ],
)
def test_what_can_be_read_in_another_form_is_heard(cast: Cast, today: date, said: Json, rule: str) -> None:
    who = wearer(cast)
    assert receipts(who.sync({**who.checkin(today), **said}))[0].get("danger") == "heard"
    assert rules(cast, who.limb_id) == [rule]


def test_an_item_that_names_no_limb_holds_up_nothing_that_came_with_it(cast: Cast, today: date) -> None:
    who = wearer(cast)
    nameless = {name: value for name, value in who.checkin(today, signs=COLD).items() if name != "limb_id"}
    got = receipts(who.sync(nameless, who.checkin(today, pain=10), {**who.checkin(today, pain=10), "limb_id": None}))
    assert [(one["status"], one.get("danger")) for one in got] == [
        ("refused", "heard"), ("kept", None), ("refused", "heard"),
    ]  # fmt: skip
    assert sorted(rules(cast, who.limb_id)) == ["emergency-cold-limb", "stop-wear-pain"]


def test_an_entry_mended_in_the_same_call_is_not_said_to_be_unkept(cast: Cast, today: date) -> None:
    who = wearer(cast)
    bad = who.checkin(today, signs=COLD, hours_worn=30)
    assert [one["status"] for one in receipts(who.sync(bad, {**bad, "hours_worn": 3}))] == ["refused", "kept"]
    signal = signal_of(cast, who.limb_id, "emergency-cold-limb")
    assert signal["evidence"] == [bad["id"]]
    assert "could not be kept" not in signal["because"]


def test_an_emergency_is_not_put_off_for_years(cast: Cast, today: date) -> None:
    who = wearer(cast)
    receipts(who.sync(who.checkin(today, signs=COLD)))
    cold = signal_of(cast, who.limb_id, "emergency-cold-limb")
    assert act(cast, cold, "snooze", until="2035-01-01") == 422
