"""Every danger a phone can say reaches the clinic: each rule, and each least combination that fires it, over HTTP."""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, timedelta
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plytide.engine import safety
from plytide.model import FINDINGS, LIMB_TAGS, MOMENTS, SIGNS, CheckIn, Limb, SkinFinding
from plytide.settings import Settings
from plytide.work import background
from tests.actors import Actor, Cast, Clock, Json, checkin
from tests.conftest import bearing, signed_in
from tests.node import node
from tests.post import listening

WEB = Path(__file__).resolve().parents[2] / "web"
LEVEL = {"emergency": "urgent", "stop_wear": "urgent", "heart_team": "call", "call_clinic": "call"}
PLACE = "shin_front"


def ways(when: Mapping[str, Any]) -> list[Json]:
    """The least that fires a condition, each way: {said, tags, born_on, earlier: [(days before, kg)]}."""
    ((name, value),) = when.items()
    match name:
        case "any":
            return [way for inner in value for way in ways(inner)]
        case "all":
            return [together(parts) for parts in product(*map(ways, value))]
        case "finding":
            return [{"said": {"skin": [{"place": PLACE, "finding": value, "redness_minutes": None}]}}]
        case "redness_over":
            over = 20.5 if value == "clinic" else value + 0.5
            return [{"said": {"skin": [{"place": PLACE, "finding": "redness", "redness_minutes": over}]}}]
        case "sign":
            return [{"said": {"signs": [value]}}]
        case "profile":
            return [{"tags": [value]}]
        case "child":
            return [{"born_on": "2017-11-20" if value else "1968-04-02"}]
        case "pain_at_least" | "comfort_at_most" | "falls_at_least":
            return [{"said": {name.split("_")[0]: value}}]
        case "weight_gain":
            return [{"said": {"weight_kg": 80 + value["kg"]}, "earlier": [(value["days"], 80)]}]
    raise AssertionError(f"no way is known to fire {name}: teach this test")


def together(parts: tuple[Json, ...]) -> Json:
    said: Json = {}
    for part in parts:
        for name, value in part.get("said", {}).items():
            said[name] = said.get(name, []) + value if isinstance(value, list) else value
    return {
        "said": said,
        "tags": [tag for part in parts for tag in part.get("tags", ())],
        "born_on": next((part["born_on"] for part in parts if part.get("born_on")), None),
        "earlier": [each for part in parts for each in part.get("earlier", ())],
    }


CASES = [(rule, together((way,))) for rule in safety.rules() for way in ways(rule["when"])]


def enrolled(app: Flask, staff: Actor, name: str, way: Json) -> tuple[Actor, str]:
    """A new person with the profile of a case: their phone and their limb."""
    born = way["born_on"] or "1968-04-02"
    person = staff.made("/api/clinic/people", {"name": name, "born_on": born, "tags": way["tags"]})
    limb = {"side": "left", "level": "transtibial", "reference_circumference_mm": 300}
    limb_id = staff.made(f"/api/clinic/people/{person['id']}/limbs", limb)["id"]
    socket = {"fitted_on": "2025-05-05", "purpose": "preparatory", "stack_at_fitting": [{"ply": 3, "make": "single"}]}
    staff.made(f"/api/clinic/limbs/{limb_id}/sockets", socket)
    wanted = {"role": "wearer", "person_ids": [person["id"]]}
    code = staff.made(f"/api/clinic/people/{person['id']}/enrolment-codes", wanted)["code"]
    return bearing(app, Actor(app).made("/api/enrol", {"code": code, "label": "Phone"})["token"]), limb_id


def sent(phone: Actor, *checkins: Json) -> None:
    answer = phone.post("/api/sync", {"schema": 1, "cursor": None, "checkins": list(checkins)})
    assert [one["status"] for one in answer.get_json()["receipts"]] == ["kept"] * len(checkins), answer.get_json()


def row_of(staff: Actor, limb_id: str) -> Any:
    rows = staff.get("/api/clinic/worklist?limit=200").get_json()["limbs"]
    return next(row for row in rows if row["limb_id"] == limb_id)


def test_each_rule_of_the_level_call_is_in_the_mail_of_the_day(
    cast: Cast, app: Flask, settings: Settings, clock: Clock, today: date
) -> None:
    """Not urgent, and so by the digest: one matter more in each day's count, and no word of what it is."""
    calls = [(rule, way) for rule, way in CASES if LEVEL[rule["level"]] == "call"]
    first = {rule["id"]: (rule, way) for rule, way in reversed(calls)}
    assert set(first) == {rule["id"] for rule in safety.rules() if LEVEL[rule["level"]] == "call"}
    with listening() as (inbox, url):
        mailed = replace(settings, smtp_url=url)
        assert cast.ida.patch("/api/clinic/settings", {"mail": "desk@clinic.example"}).status_code == 200
        counts = []
        for n, (rule, way) in enumerate(first.values()):
            on = today + timedelta(days=n)
            phone, limb_id = enrolled(app, signed_in(app, "ida"), f"Call {n}", way)
            before = [checkin(limb_id, on - timedelta(days=ago), weight_kg=kg) for ago, kg in way["earlier"]]
            sent(phone, *before, checkin(limb_id, on, **way["said"]))
            background.sweep(mailed)
            background.sweep(mailed)
            assert len(inbox.mail) == n + 1, rule["id"]
            text = inbox.mail[-1].get_content()
            told = [row for row in row_of(signed_in(app, "ida"), limb_id)["signals"] if row["rule"] == rule["id"]]
            assert [row["level"] for row in told] == ["call"], rule["id"]
            assert rule["id"] not in text and f"Call {n}" not in text
            found = re.search(r"(\d+) to call", text)
            counts.append(int(found[1]) if found else 0)
            clock.forward(days=1)
        assert counts[0] >= 1 and counts == sorted(counts) and counts[-1] >= len(first), counts


def test_each_rule_and_each_way_to_fire_it_is_on_the_worklist_in_the_story_and_in_the_mail_after_one_round(
    cast: Cast, app: Flask, settings: Settings, clock: Clock, today: date
) -> None:
    assert {rule["id"] for rule, _ in CASES} == {rule["id"] for rule in safety.rules()}
    with listening() as (inbox, url):
        mailed = replace(settings, smtp_url=url)
        assert cast.ida.patch("/api/clinic/settings", {"mail": "desk@clinic.example"}).status_code == 200
        clock.forward(hours=-11.5)  # all before the digest's hour
        for n, (rule, way) in enumerate(CASES):
            case = f"{rule['id']}: {way}"
            phone, limb_id = enrolled(app, cast.ida, f"Case {n}", way)
            before = [checkin(limb_id, today - timedelta(days=ago), weight_kg=kg) for ago, kg in way["earlier"]]
            said = checkin(limb_id, today, **way["said"])
            sent(phone, *before, said)
            mails = len(inbox.mail)
            background.sweep(mailed)
            clock.forward(minutes=3)
            background.sweep(mailed)
            row = row_of(cast.ida, limb_id)
            (signal,) = [one for one in row["signals"] if one["rule"] == rule["id"]]
            level = LEVEL[rule["level"]]
            assert (signal["level"], signal["evidence"], signal["status"]) == (level, [said["id"]], "open"), case
            assert signal["since"] == today.isoformat(), case
            assert row["urgency"] == (3 if any(one["level"] == "urgent" for one in row["signals"]) else 2), case
            story = cast.ida.get(f"/api/clinic/limbs/{limb_id}").get_json()
            (kept,) = [one for one in story["days"][0]["checkins"] if one["id"] == said["id"]]
            words = rule["text"]["en"]
            told = {"rule": rule["id"], "level": rule["level"], "title": words["title"], "do": words["do"]}
            assert told in kept["advice"], case
            assert rule["id"] in [one["rule"] for one in story["assessment"]["signals"]], case
            if level == "urgent":
                assert len(inbox.mail) == mails + 1, case
                assert rule["id"] not in inbox.mail[-1].as_string()


# The ten that were sent through the real sync and left the row at "Nothing to act on", but for one.

TEN = {
    "cold pale limb": ({"signs": ["cold_pale_limb"]}, "emergency-cold-limb", 3),
    "confusion": ({"signs": ["confusion"]}, "emergency-infection", 3),
    "redness that spreads fast": ({"signs": ["fast_spreading_redness"]}, "emergency-infection", 3),
    "fever": ({"signs": ["fever_or_shivering"]}, "fever", 2),
    "severe pain": ({"signs": ["severe_pain"]}, "stop-wear-pain", 3),
    "a stuck sock": ({"signs": ["sock_stuck"]}, "stop-wear-skin", 3),
    "pain 10": ({"pain": 10}, "stop-wear-pain", 3),
    "does not go in": ({"signs": ["cannot_get_fully_in"]}, "not-fully-in", 2),
    "comfort 0": ({"comfort": 0}, "comfort-low", 2),
    "open skin": (
        {"skin": [{"place": PLACE, "finding": "open_skin", "redness_minutes": None}]},
        "stop-wear-skin",
        3,
    ),
}


@pytest.mark.parametrize("name", TEN)
def test_a_danger_said_on_a_phone_leads_the_worklist(name: str, cast: Cast, today: date) -> None:
    said, rule, urgency = TEN[name]
    cast.anouk.sync(cast.anouk.checkin(today, **said))
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    assert (row["limb_id"], row["urgency"]) == (cast.anouk.limb_id, urgency)
    assert rule in [signal["rule"] for signal in row["signals"]]
    assert "The wearer was told" in row["why"]


def test_an_emergency_leads_a_row_that_also_says_stop_wearing(cast: Cast, today: date) -> None:
    blister = [{"place": PLACE, "finding": "blister", "redness_minutes": None}]
    cast.anouk.sync(cast.anouk.checkin(today, skin=blister, signs=["cold_pale_limb"]))
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    assert row["why"].startswith("Cold, pale limb") and row["why"].endswith("And 1 more.")


def test_a_danger_of_a_day_that_has_not_begun_at_the_server_does_not_wait_for_it(
    cast: Cast, clock: Clock, today: date
) -> None:
    """East of the server the wearer's morning is of tomorrow's date for half a day."""
    open_skin = [{"place": PLACE, "finding": "open_skin", "redness_minutes": None}]
    ahead = cast.anouk.checkin(today + timedelta(days=1), signs=["chest_pain_or_breathless"], skin=open_skin)
    cast.anouk.sync(ahead)
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    assert (row["limb_id"], row["urgency"], row["state"]) == (cast.anouk.limb_id, 3, "held")
    assert row["silent_days"] == 0
    assert {one["rule"] for one in row["signals"]} == {"emergency-chest", "stop-wear-skin"}
    assert all(one["since"] <= today.isoformat() and one["evidence"] == [ahead["id"]] for one in row["signals"])
    clock.forward(days=1)
    assert [len(one["evidence"]) for one in signals_of(cast)] == [1, 1]  # the same matter, not told twice


# A rule is its lines in the file, and nothing else.


def test_a_rule_added_to_the_file_reaches_the_clinic(
    cast: Cast, today: date, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = json.loads(safety.RULES_FILE.read_text(encoding="utf-8"))
    words = {"title": "Listen to the pin", "do": "Call your clinic today."}
    new = {"id": "invented", "level": "stop_wear", "when": {"sign": "fewer_clicks"}, "text": {"en": words}}
    file["rules"].append(new)
    (tmp_path / "rules.json").write_text(json.dumps(file), encoding="utf-8")
    said = cast.anouk.checkin(today, signs=["fewer_clicks"])
    cast.anouk.sync(said)
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    assert "invented" not in [signal["rule"] for signal in row["signals"]]
    monkeypatch.setattr(safety, "RULES_FILE", tmp_path / "rules.json")
    again = cast.dov.checkin(today, signs=["fewer_clicks"])
    cast.dov.sync(again)
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    (signal,) = row["signals"]
    assert (row["limb_id"], row["urgency"]) == (cast.dov.limb_id, 3)
    assert (signal["kind"], signal["level"], signal["rule"]) == ("safety", "urgent", "invented")
    assert signal["evidence"] == [again["id"]]
    story = cast.ida.get(f"/api/clinic/limbs/{cast.dov.limb_id}").get_json()
    assert story["days"][0]["checkins"][0]["advice"] == [{"rule": "invented", "level": "stop_wear", **words}]


# Until it is looked at and clear on two later days, or somebody closes it.


def signals_of(cast: Cast) -> list[Json]:
    """Anouk's signals after a round; Ida signs in again, since the clock may have moved by days."""
    cast.ida = signed_in(cast.app, "ida")
    cast.ida.get("/api/clinic/worklist")
    found: list[Json] = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()["signals"]
    return found


def said_today(cast: Cast, clock: Clock, **said: Any) -> str:
    one = cast.anouk.checkin(clock.now.date(), **said)
    cast.anouk.sync(one)
    return str(one["id"])


CLEAR = {"skin_checked": True, "signs_checked": True}


def test_a_danger_holds_for_weeks_without_a_look_and_ends_with_two_clear_days(cast: Cast, clock: Clock) -> None:
    said_today(cast, clock, signs=["chest_pain_or_breathless"], signs_checked=True)
    clock.forward(days=30)
    said_today(cast, clock)  # logged, but neither asked nor looked
    said_today(cast, clock, skin_checked=True)  # looked, not asked
    assert [one["holds"] for one in signals_of(cast) if one["rule"]] == [True]
    for n in range(2):
        clock.forward(days=1)
        said_today(cast, clock, **CLEAR)
        assert [one["level"] for one in signals_of(cast) if one["rule"]] == ["urgent" if n == 0 else "call"]
    (signal,) = (one for one in signals_of(cast) if one["rule"])
    assert (signal["status"], signal["holds"]) == ("open", True)  # nobody at the clinic has looked yet
    cast.ida.made(f"/api/clinic/signals/{signal['id']}/acknowledge", {})
    assert [(one["status"], one["holds"]) for one in signals_of(cast) if one["rule"]] == [("acknowledged", False)]


def test_a_clear_look_on_a_day_with_another_danger_is_none(cast: Cast, clock: Clock) -> None:
    said_today(cast, clock, signs=["cold_pale_limb"], signs_checked=True)
    for _ in range(3):
        clock.forward(days=1)
        said_today(cast, clock, **CLEAR)
        said_today(cast, clock, pain=9)
    held = {one["rule"]: one["holds"] for one in signals_of(cast) if one["rule"]}
    assert held == {"emergency-cold-limb": True, "stop-wear-pain": True}


def test_what_came_with_its_own_clear_looks_is_still_told(cast: Cast, clock: Clock, today: date) -> None:
    """A phone without a network for four days: the clinic could not have seen the danger before it was over."""
    days = [cast.anouk.checkin(today - timedelta(days=ago), **CLEAR) for ago in (2, 1, 0)]
    cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=3), signs=["confusion"]), *days)
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    assert [(one["rule"], one["holds"]) for one in row["signals"]] == [("emergency-infection", True)]
    assert "Days without it that came in together with it are not counted: 3." in row["signals"][0]["because"]
    for _ in range(2):
        clock.forward(days=1)
        said_today(cast, clock, **CLEAR)
    (signal,) = (one for one in signals_of(cast) if one["rule"])
    assert signal["holds"]  # over for the wearer; for the clinic not before somebody there looked
    cast.ida.made(f"/api/clinic/signals/{signal['id']}/acknowledge", {})
    assert [one["holds"] for one in signals_of(cast) if one["rule"]] == [False]


def test_a_correction_that_takes_the_danger_back_leaves_it_open_until_somebody_closes_it(
    cast: Cast, clock: Clock
) -> None:
    first = said_today(cast, clock, signs=["fall_hit_head"])
    assert [(one["rule"], one["holds"]) for one in signals_of(cast)] == [("emergency-fall-head", True)]
    said_today(cast, clock, replaces=first)
    (signal,) = signals_of(cast)
    assert (signal["holds"], signal["status"]) == (False, "open")
    story = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
    advice = {one["id"]: [each["rule"] for each in one["advice"]] for one in story["days"][0]["checkins"]}
    assert advice[first] == ["emergency-fall-head"] and len(advice) == 2 and [] in advice.values()


def test_two_rules_are_two_signals_and_closing_one_leaves_the_other(cast: Cast, clock: Clock) -> None:
    said_today(cast, clock, pain=9, comfort=0)
    by_rule = {one["rule"]: one for one in signals_of(cast)}
    assert {rule: one["level"] for rule, one in by_rule.items()} == {"stop-wear-pain": "urgent", "comfort-low": "call"}
    cast.ida.made(f"/api/clinic/signals/{by_rule['comfort-low']['id']}/close", {"outcome": "Called"})
    clock.forward(days=1)
    said_today(cast, clock, pain=9)
    status = {one["rule"]: one["status"] for one in signals_of(cast)}
    assert status == {"stop-wear-pain": "open", "comfort-low": "closed"}


def test_what_is_a_call_opens_again_when_it_is_told_again(cast: Cast, clock: Clock) -> None:
    said_today(cast, clock, comfort=0)
    (signal,) = signals_of(cast)
    cast.ida.made(f"/api/clinic/signals/{signal['id']}/close", {"outcome": "Relief made"})
    clock.forward(days=40)
    said_today(cast, clock, comfort=1)
    assert [(one["status"], one["holds"]) for one in signals_of(cast) if one["rule"] == "comfort-low"] == [
        ("open", True)
    ]


def test_an_emergency_told_again_opens_what_somebody_is_dealing_with(cast: Cast, clock: Clock) -> None:
    said_today(cast, clock, signs=["chest_pain_or_breathless"])
    (signal,) = signals_of(cast)
    cast.ida.made(f"/api/clinic/signals/{signal['id']}/acknowledge", {})
    clock.forward(days=1)
    said_today(cast, clock)
    assert [one["status"] for one in signals_of(cast)] == ["acknowledged"]
    said_today(cast, clock, signs=["chest_pain_or_breathless"])
    assert [one["status"] for one in signals_of(cast)] == ["open"]


# The phone's evaluator, on all of these and on made-up ones.


def by_the_phone(cases: list[tuple[Json, Json]]) -> list[list[str]]:
    script = (
        "import { readFileSync } from 'node:fs';"
        f"import {{ evaluate }} from '{(WEB / 'shared' / 'safety.js').as_uri()}';"
        f"const rules = JSON.parse(readFileSync('{WEB / 'shared' / 'safety-rules.json'}'));"
        "const cases = JSON.parse(readFileSync(0));"
        "console.log(JSON.stringify(cases.map(([said, about]) => evaluate(rules, said, about).map((one) => one.id))));"
    )
    done = subprocess.run(
        [node(), "--input-type=module", "-e", script],
        input=json.dumps(cases), capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    found: list[list[str]] = json.loads(done.stdout)
    return found


def noun(one: Json) -> CheckIn:
    return CheckIn(
        one["id"], "l", date.fromisoformat(one["date"]), (), one.get("comfort", 8), pain=one.get("pain"),
        skin=tuple(SkinFinding(**each) for each in one.get("skin", ())), signs=tuple(one.get("signs", ())),
        falls=one.get("falls"), weight_kg=one.get("weight_kg"), tags=tuple(one.get("tags", ())),
        moment=one.get("moment", "putting_on"),
    )  # fmt: skip


def by_the_server(said: Json, about: Json) -> list[str]:
    born = about["born_on"]
    limb = Limb("l", born_on=date.fromisoformat(born) if born else None, tags=tuple(about["tags"]))
    log = [noun(one) for one in [*about["earlier"], said]]
    one = [
        [rule["id"] for rule in rules]
        for each, rules in safety.fired(log, limb, about["redness_minutes"])
        if each.id == said["id"]
    ]
    slow = [one.rule for one in safety.advice_for(log[-1], limb, log[:-1], redness_minutes=about["redness_minutes"])]
    assert (one[0] if one else []) == slow  # passing over at a glance never passes over a danger
    return slow


def as_sent(way: Json) -> tuple[Json, Json]:
    on = date(2025, 9, 15)
    earlier = [
        {"id": f"b{n}", "date": str(on - timedelta(days=ago)), "weight_kg": kg}
        for n, (ago, kg) in enumerate(way["earlier"])
    ]
    about = {"tags": way["tags"], "born_on": way["born_on"], "redness_minutes": 20, "earlier": earlier}
    return {"id": "c", "date": str(on), "comfort": 8, **way["said"]}, about


def test_phone_and_server_agree_on_every_way_to_fire_a_rule() -> None:
    cases = [as_sent(way) for _, way in CASES]
    told = by_the_phone(cases)
    assert told == [by_the_server(*case) for case in cases]
    assert all(rule["id"] in rules for (rule, _), rules in zip(CASES, told, strict=True))


SKIN = st.builds(
    lambda finding, minutes: {"place": PLACE, "finding": finding, "redness_minutes": minutes},
    st.sampled_from(FINDINGS),
    st.sampled_from([None, 0, 5, 5.5, 10, 10.5, 15, 20, 20.5, 60]),
)
WEIGHT = st.none() | st.sampled_from([80, 80.6, 81.4, 82, 82.3, 90])
SAID = st.fixed_dictionaries(
    {},
    optional={
        "skin": st.lists(SKIN, max_size=3),
        "signs": st.lists(st.sampled_from(SIGNS), unique=True, max_size=3),
        "pain": st.none() | st.integers(0, 10),
        "comfort": st.integers(0, 10),
        "falls": st.none() | st.integers(0, 3),
        "weight_kg": WEIGHT,
        "tags": st.just(["dialysis"]),
        "moment": st.sampled_from(MOMENTS),
    },
)
EARLIER = st.tuples(st.integers(0, 9), WEIGHT, st.sampled_from([[], [], ["dialysis"]]), st.sampled_from(MOMENTS))
PERSON = st.fixed_dictionaries(
    {
        "tags": st.lists(st.sampled_from(LIMB_TAGS), unique=True, max_size=3) | st.just(["heart_failure", "dialysis"]),
        "born_on": st.sampled_from([None, "1960-04-02", "2007-09-15", "2007-09-16", "2017-11-20"]),
        "redness_minutes": st.sampled_from([10, 20, 30, 21]),
        "earlier": st.lists(EARLIER, max_size=6),
    }
)


def cases_of(drawn: list[tuple[Json, Json]]) -> Iterator[tuple[Json, Json]]:
    on = date(2025, 9, 15)
    for said, person in drawn:
        earlier = [
            {"id": f"b{n}", "date": str(on - timedelta(days=ago)), "weight_kg": kg, "tags": tags, "moment": moment}
            for n, (ago, kg, tags, moment) in enumerate(person["earlier"])
        ]
        yield {"id": "c", "date": str(on), "comfort": 8, **said}, {**person, "earlier": earlier}


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.tuples(SAID, PERSON), min_size=100, max_size=100))
def test_phone_and_server_agree_on_made_up_days(drawn: list[tuple[Json, Json]]) -> None:
    cases = list(cases_of(drawn))
    assert by_the_phone(cases) == [by_the_server(*case) for case in cases]
