"""What is said of danger, silence, weight and days is true: nothing claims more than is known."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from plytide.engine.assess import assess, assessment_of
from plytide.engine.facts import Facts
from plytide.engine.planner import DEFINITIVE, plan_of
from plytide.engine.thresholds import DEFAULTS
from plytide.engine.volume import assess_volume
from plytide.engine.weights import after_session, heart_gain
from plytide.model import (
    Assessment,
    CheckIn,
    DateEstimate,
    Limb,
    LimbHistory,
    Look,
    Measurement,
    SkinFinding,
    TapeLevel,
)
from tests.engine.test_not_known import LIMB, SOCKET, day, history


def steady(until: int = 200, **last: object) -> LimbHistory:
    known = history(until)
    end = known.checkins[-1]
    ends = replace(end, **last)  # type: ignore[arg-type]
    return replace(known, checkins=(*known.checkins[:-1], ends), clinic_looks=())


def on(known: LimbHistory, n: int) -> Assessment:
    return assess(known, [day(n)])[0]


# Silence.


def test_a_log_that_ended_days_ago_is_named_in_the_state_and_in_the_plan() -> None:
    known = history(200)
    today, later = on(known, 200), on(known, 204)
    assert today.state == later.state == "steady"
    assert "ago" not in today.reasons[0].text
    assert "by a log that ends 4 days ago" in later.reasons[0].text
    for found, old in ((today, False), (later, True)):
        way = next(one for one in plan_of(known, found, DEFAULTS).options if one.code == DEFINITIVE)
        assert ("The last check-in is 4 days old" in way.because) is old
        assert way.words.endswith("now") is not old


def test_after_a_week_and_a_day_nothing_is_known_and_nothing_offered_first() -> None:
    known = history(200)
    assert on(known, 207).state == "steady"
    found = on(known, 208)
    assert found.state == "gathering" and found.change_pct is None and found.outlook == ()
    codes = [one.code for one in plan_of(known, found, DEFAULTS, "worn-out").options]
    assert codes[0] != DEFINITIVE


# A danger holds a recast until somebody at the clinic has looked.


@pytest.mark.parametrize(
    "said",
    [
        {"signs": ("chest_pain_or_breathless",)},
        {"signs": ("cold_pale_limb",)},
        {"signs": ("confusion",)},
        {"signs": ("new_numbness",)},
        {"pain": 10},
    ],
)
def test_a_danger_said_as_a_sign_holds_a_recast_until_the_clinic_has_looked(said: dict[str, object]) -> None:
    known = steady(**said)
    found = on(known, 200)
    assert (found.state, found.reasons[0].code) == ("held", "danger-unseen")
    assert "acknowledged or closed" in found.reasons[0].text
    looked = replace(known, clinic_looks=(day(200),))
    assert on(looked, 200).state == "steady"
    before = replace(known, clinic_looks=(day(199),))
    assert on(before, 200).state == "held"
    # By days alone it never ends.
    assert "held" in {on(known, 206).state}


def test_what_is_no_danger_holds_nothing() -> None:
    assert on(steady(signs=("fewer_clicks",)), 200).state == "steady"


# The clinic's own look.


def test_the_clinics_look_that_says_clear_ends_a_hold_by_skin_without_a_look_at_home() -> None:
    blister = (SkinFinding("shin_front", "blister"),)
    known = steady(skin=blister)
    assert on(known, 200).state == "held"
    seen = replace(known, clinic_looks=(day(200),))
    assert on(seen, 203).state == "held"
    clear = replace(seen, looks_at=(Look(day(200), "skin", "stop-wear-skin", True),))
    assert on(clear, 203).state == "steady"
    early = replace(seen, looks_at=(Look(day(199), "skin", "stop-wear-skin", True),))
    assert on(early, 203).state == "held"


# Weights on dialysis.


def test_a_gain_on_dialysis_is_named_between_like_days_only() -> None:
    """A morning-after weight of the week before is not set against one of before a session."""
    limb = replace(LIMB, tags=("heart_failure", "dialysis"))

    def weighed(n: int, kg: float, session: bool = False) -> CheckIn:
        return CheckIn(f"w{n}", "a", day(n), (), 8, weight_kg=kg, tags=("dialysis",) if session else ())

    said = [
        weighed(100, 80.0, True),  # before a session: two days after the last one
        weighed(101, 78.0),  # the morning after
        weighed(102, 80.0, True),
        weighed(103, 80.5),  # the morning after: up 2.5 in two days
        weighed(104, 82.6, True),  # before a session: up 2.6 against 102
    ]
    facts = Facts.of(LimbHistory(limb, (SOCKET,), checkins=tuple(said)))
    gain = heart_gain(facts, day(104), DEFAULTS)
    assert gain is not None
    assert after_session(facts, gain.before) == after_session(facts, gain.after), gain.words


# From when it will be steady.


def test_a_limb_that_is_not_steady_today_is_not_said_to_be_so_from_today() -> None:
    known = history(200)
    facts = Facts.of(known)
    ((view,),) = assess_volume([known], [[day(200)]], DEFAULTS)
    today = DateEstimate(day(200), day(200), day(200))
    unsettled = replace(view, steady=False, settling=True, settling_since=day(180), settles_on=today)
    found = assessment_of(facts, unsettled, day(200), DEFAULTS)
    assert (found.state, found.settles_on) == ("settling", None)
    assert "settles-unknown" in [reason.code for reason in found.reasons]
    later = replace(unsettled, settles_on=DateEstimate(day(230), day(200), day(260)))
    assert assessment_of(facts, later, day(200), DEFAULTS).settles_on == later.settles_on


# Words.


def test_fourteen_days_of_log_are_not_said_to_be_less_than_fourteen() -> None:
    text = on(history(13), 13).reasons[0].text
    assert "check-ins on 14 days, the last 13 days after the first" in text
    assert "at least 14 days after the first" in text


# Tape.


def tapes(*girths: float, hand: str | None = "Ida") -> LimbHistory:
    """One level, measured every four weeks."""
    known = history(28 * (len(girths) - 1))
    measured = tuple(
        Measurement(day(28 * n), (TapeLevel(80, girth), TapeLevel(160, girth + 20)), 15, None, hand, f"m{n}")
        for n, girth in enumerate(girths)
    )
    return replace(known, measurements=measured)


def test_small_steps_of_the_tape_add_up() -> None:
    known = tapes(320, 314, 308, 302, 296, 290)
    found = on(known, 140)
    last = found.tapes[-1]
    assert not last.beyond
    assert last.total_since == day(0) and last.total_pct is not None and last.total_pct < -15
    assert last.total_beyond
    assert "tape-against-log" in [reason.code for reason in found.reasons]


def test_a_tape_that_goes_to_and_fro_adds_up_to_nothing() -> None:
    found = on(tapes(320, 314, 320, 314, 320, 318), 140)
    assert not any(tape.beyond or tape.total_beyond for tape in found.tapes)
    assert "tape-against-log" not in [reason.code for reason in found.reasons]


# Redness of which nobody said how long it lasted.


def test_redness_without_minutes_is_said_to_be_not_known() -> None:
    red = (SkinFinding("shin_front", "redness"),)
    found = on(steady(skin=red), 200)
    (reason,) = [one for one in found.reasons if one.code == "redness-minutes-unknown"]
    assert "not known" in reason.text
    timed = (SkinFinding("shin_front", "redness", 5),)
    assert "redness-minutes-unknown" not in [one.code for one in on(steady(skin=timed), 200).reasons]


# Bony points of adults.


@pytest.mark.parametrize("sign", ["bony_point", "stretched_skin"])
def test_a_bony_point_of_an_adult_is_a_call(sign: str) -> None:
    found = on(steady(signs=(sign,)), 200)
    assert [(one.rule, one.level) for one in found.signals if one.rule] == [("bone-adult", "call")]
    child = Limb("a", amputated_on=date(2023, 1, 1), reference_circumference_mm=300, born_on=date(2017, 1, 1))
    as_child = replace(steady(signs=(sign,)), limb=child)
    assert [one.rule for one in on(as_child, 200).signals if one.rule] == ["stop-wear-bone"]
