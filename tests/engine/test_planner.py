"""The planner: options with their numbers, checklists that stop where the trade stops, never an order."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from plytide.engine.planner import coming_after, plan_of
from plytide.engine.reasons import CODES
from plytide.engine.thresholds import DEFAULTS
from plytide.model import (
    Assessment,
    BestCast,
    CheckIn,
    DateEstimate,
    Estimate,
    Limb,
    LimbHistory,
    Measurement,
    Outlook,
    Reason,
    Recast,
    SkinFinding,
    Sock,
    Socket,
    TapeLevel,
)

DAY = date(2025, 9, 15)
OUTLOOK = tuple(
    Outlook(days, Estimate(mm, mm - half, mm + half))
    for days, mm, half in ((14, 0.4, 0.2), (30, 0.8, 0.4), (60, 1.3, 0.7), (90, 1.6, 1.0))
)
LIMB = Limb("a", shape="conical", reference_circumference_mm=300, amputated_on=DAY - timedelta(days=70))
SOCKET = Socket(
    "s", DAY - timedelta(days=40), purpose="diagnostic", stack_at_fitting=(Sock(1, "single"),), weight_limit_kg=100
)
DEFINITIVE = replace(SOCKET, purpose="definitive")


def assessment(state: str = "settling", **more: Any) -> Assessment:
    plain: dict[str, Any] = {
        "limb_id": "a",
        "as_of": DAY,
        "checkins_used": 40,
        "change_pct": None,
        "change_28d_pct": None,
        "coming_28d_pct": Estimate(-3, -5, -1),
        "daily_swing_pct": None,
        "state": state,
        "since": DAY,
        "settles_on": DateEstimate(DAY + timedelta(days=30), DAY, None) if state == "settling" else None,
        "reasons": (Reason("x", "Because."),),
        "outlook": OUTLOOK,
        "signals": (),
    }
    return Assessment(**{**plain, **more})


def checkin(ago: int = 0, **said: Any) -> CheckIn:
    return CheckIn(f"c{ago}", "a", DAY - timedelta(days=ago), (Sock(3, "single"),), 8, **said)


def plan(
    limb: Limb = LIMB,
    checkins: tuple[CheckIn, ...] = (checkin(),),
    measured: Any = (),
    socket: Socket | None = SOCKET,
    reason: str | None = None,
    **more: Any,
) -> Any:
    history = LimbHistory(limb, (socket,) if socket else (), measurements=measured, checkins=checkins)
    return plan_of(history, assessment(**more), DEFAULTS, reason)


def recast(best_in: int, reaches: int = 60) -> Recast:
    on = [DAY + timedelta(days=max(best_in + more, 0)) for more in (0, -14, 28)]
    return Recast(
        365, 1.4, Estimate(170, 120, 230), Estimate(190, 130, 240), Estimate(195, 140, 250),
        BestCast(*on, good_days=Estimate(212, 150, 260)), reaches,
    )  # fmt: skip


def codes(made: Any) -> list[str]:
    return [option.code for option in made.options]


def test_cast_later_is_the_same_forecast_less_what_comes_before() -> None:
    """Cast in 30 days, then 30 days: 1.3 − 0.8 mm, quantile by quantile."""
    later = coming_after(assessment(), 30, 30)
    assert later is not None
    assert (later.value, later.low, later.high) == pytest.approx((0.5, 0.2, 0.8))
    now = coming_after(assessment(), 0, 30)
    assert now is not None and (now.value, now.low, now.high) == pytest.approx((0.8, 0.4, 1.2))
    assert coming_after(assessment(), 60, 90) is None  # beyond what the engine forecasts


@pytest.mark.parametrize(
    ("state", "first"),
    [
        ("steady", "definitive-now"),
        ("settling", "wait"),
        ("changing", "diagnostic-then-definitive"),
        ("due", "diagnostic-then-definitive"),
        ("held", "wait"),
        ("gathering", "wait"),
    ],
)
def test_every_option_stays_open_and_the_fitting_one_stands_first(state: str, first: str) -> None:
    """Of a diagnostic socket, which is planned to be followed by the definitive one."""
    found = codes(plan(state=state))
    assert found[0] == first
    assert sorted(found) == ["definitive-now", "diagnostic-then-definitive", "keep", "wait"]


@pytest.mark.parametrize("state", ["gathering", "changing", "settling", "steady"])
def test_a_definitive_socket_that_serves_is_kept_first_and_no_socket_is_talked_up(state: str) -> None:
    """Four weeks after a definitive, comfort 9, nothing due."""
    log = tuple(replace(checkin(ago), comfort=9) for ago in range(14))
    made = plan(state=state, socket=replace(DEFINITIVE, fitted_on=DAY - timedelta(days=27)), checkins=log)
    assert (made.reason.code, made.reason.found) == ("none", True)
    assert codes(made)[0] == "keep"
    assert made.options[0].because == (
        "Fitted 27 days ago. Comfort averages 9.0 of 10 on 14 days of the last 14. "
        "Nothing in the log says that it no longer serves."
    )
    assert made.remake is None


def test_health_comes_before_keeping() -> None:
    assert codes(plan(state="held", socket=DEFINITIVE))[:2] == ["wait", "keep"]
    assert codes(plan(state="held", socket=DEFINITIVE, reason="broken"))[0] == "wait"


@pytest.mark.parametrize(
    ("state", "reason", "first"),
    [
        ("steady", "broken", "definitive-now"),
        ("changing", "broken", "diagnostic-then-definitive"),
        ("settling", "worn-out", "diagnostic-then-definitive"),
        ("settling", "brim-pain", "keep"),
        ("due", "brim-pain", "diagnostic-then-definitive"),
        ("settling", "stack-due", "wait"),
    ],
)
def test_the_order_follows_the_reason(state: str, reason: str, first: str) -> None:
    made = plan(state=state, socket=DEFINITIVE, reason=reason)
    assert (made.reason.code, codes(made)[0]) == (reason, first)


def test_each_reason_has_its_own_checks_and_words() -> None:
    broken, brim = plan(socket=DEFINITIVE, reason="broken"), plan(socket=DEFINITIVE, reason="brim-pain")
    assert (broken.for_reason[0].code, brim.for_reason[0].code) == ("break", "trim")
    assert brim.options[0].words == "Keep this socket and see to its brim"


def test_what_stands_against_a_way_follows_the_kind_of_socket_it_makes() -> None:
    """A limb that still settles stands against a definitive socket, and not against a diagnostic one."""
    wide = (Reason("coming-change-wide", "Not known to be steady."),)
    found = {one.code: one for one in plan(state="changing", reasons=wide).options}
    assert [one.code for one in found["definitive-now"].against] == ["volume"]
    assert found["diagnostic-then-definitive"].against == ()
    assert found["diagnostic-then-definitive"].makes == "diagnostic" and found["keep"].makes is None
    wound = checkin(3, skin=(SkinFinding("shin", "open_skin"),))
    found = {one.code: one for one in plan(checkins=(wound,), state="held").options}
    assert [one.code for one in found["diagnostic-then-definitive"].against] == ["skin"]


def test_without_a_socket_nothing_is_kept() -> None:
    made = plan(socket=None, state="gathering")
    assert (made.reason.code, codes(made)) == (
        "first-socket",
        ["diagnostic-then-definitive", "wait", "definitive-now"],
    )


@pytest.mark.parametrize(("scar", "state"), [(True, "stop"), (False, "ok"), (None, "unknown")])
def test_a_deep_scar_is_what_was_entered(scar: bool | None, state: str) -> None:
    assert states(plan(replace(LIMB, deep_scar=scar)).direct)["scars"] == state


def test_options_carry_their_numbers() -> None:
    definitive = next(one for one in plan().options if one.code == "definitive-now")
    assert "0.8 mm of sock [0.4 to 1.2]" in definitive.because
    wait = plan().options[0]
    assert wait.until == DAY + timedelta(days=30)


def states(checks: Any) -> dict[str, str]:
    return {check.code: check.state for check in checks}


@pytest.mark.parametrize(("shape", "state"), [("conical", "ok"), ("bulbous", "stop"), (None, "unknown")])
def test_a_bulbous_end_stops_a_socket_made_on_the_limb(shape: str | None, state: str) -> None:
    assert states(plan(replace(LIMB, shape=shape)).direct)["shape"] == state


def test_a_tape_that_shows_a_wider_end_stops_it_too() -> None:
    levels = (TapeLevel(0, 290), TapeLevel(40, 270), TapeLevel(80, 300))
    measured = (Measurement(DAY, levels),)
    assert states(plan(measured=measured).direct)["shape"] == "stop"


def shape_of(shape: str | None, *girths: float) -> tuple[str, str]:
    measured = (Measurement(DAY, tuple(TapeLevel(40.0 * n, girth) for n, girth in enumerate(girths))),)
    check = next(one for one in plan(replace(LIMB, shape=shape), measured=measured).direct if one.code == "shape")
    return check.state, check.because


@pytest.mark.parametrize("shape", ["conical", "cylindrical", "bulbous", None])
def test_a_middle_wider_than_what_is_above_it_stops_it_whatever_shape_is_entered(shape: str | None) -> None:
    state, because = shape_of(shape, 321, 357, 332)
    assert state == "stop" and "357 mm at 40 mm from the end and 332 mm above that" in because
    assert ("differs" in because) is (shape in ("conical", "cylindrical"))


def test_a_shape_entered_as_bulbous_stops_it_and_a_tape_that_differs_is_said() -> None:
    state, because = shape_of("bulbous", 240, 280, 310)
    assert state == "stop" and "differs" in because
    assert shape_of("conical", 240, 280, 310) == (
        "ok",
        "The shape is entered as conical, and the tape of 15 September agrees.",
    )


def test_open_skin_stops_and_silence_about_skin_is_not_ok() -> None:
    wound = checkin(3, skin=(SkinFinding("shin", "open_skin"),))
    assert states(plan(checkins=(wound,)).direct)["skin"] == "stop"
    assert states(plan().direct)["skin"] == "unknown"
    assert states(plan(checkins=(checkin(1, skin_checked=True),)).direct)["skin"] == "ok"


@pytest.mark.parametrize(("kg", "state"), [(99.0, "ok"), (101.0, "stop"), (None, "unknown")])
def test_weight_is_held_against_the_limit_the_clinic_entered(kg: float | None, state: str) -> None:
    assert states(plan(checkins=(checkin(weight_kg=kg),)).direct)["weight"] == state


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("coming-change-inside", "ok"),
        ("coming-change-outside", "stop"),
        ("coming-change-wide", "stop"),
        ("sudden-change", "stop"),
        ("no-recent-days", "unknown"),
        ("too-few-days", "unknown"),
    ],
)
@pytest.mark.parametrize("state", ["held", "due", "changing"])
def test_the_volume_check_says_what_the_volume_says_whatever_else_holds(state: str, code: str, said: str) -> None:
    reasons = (Reason("alarm", "Skin."), Reason(code, "The volume's own words."))
    check = next(one for one in plan(state=state, reasons=reasons).direct if one.code == "volume")
    assert check.state == said
    assert code == "too-few-days" or check.because == "The volume's own words."


def test_no_minus_stands_before_a_nought() -> None:
    level = tuple(Outlook(days, Estimate(-0.02, -0.04, 0.2)) for days in (14, 30, 60, 90))
    for option in plan(outlook=level).options:
        assert "-0.0" not in option.because


def test_a_childs_checklist_is_for_children() -> None:
    assert plan().child == ()
    child = replace(LIMB, born_on=date(2018, 1, 1))
    seen = checkin(2, signs=("bony_point",))
    assert states(plan(child, checkins=(seen,)).child)["bone"] == "stop"


def test_what_is_missing_is_said() -> None:
    bare = plan(replace(LIMB, shape=None, reference_circumference_mm=None), state="gathering")
    assert {"shape", "circumference", "measurement", "skin", "log"} <= {reason.code for reason in bare.missing}


def test_liner_size_is_the_circumference_4_cm_from_the_end_rounded_down() -> None:
    # Where it is measured: common practice.
    measured = (Measurement(DAY, (TapeLevel(0, 240.0), TapeLevel(40, 287.0), TapeLevel(80, 300))),)
    liner = next(item for item in plan(measured=measured).stock if item.what == "liner")
    assert (liner.size, liner.count) == ("28 cm", 1)


def test_no_option_is_an_order() -> None:
    for state in ("steady", "settling", "changing", "due", "held", "gathering"):
        for reason in (None, *CODES):
            for option in plan(state=state, reason=reason).options:
                text = f"{option.words} {option.because}".lower()
                assert not any(word in text for word in ("must", "stable", "you should"))


def test_the_makers_instructions_come_before_our_own_list() -> None:
    first = plan().direct[0]
    assert (first.code, first.state) == ("maker", "unknown")  # no log can say that they were read
    assert "before this list" in first.because


def test_more_than_two_diagnostic_sockets_name_the_coverage_document() -> None:
    check = next(one for one in plan().cast if one.code == "test-sockets")
    assert "L33787" in check.because and "Medicare in the US" in check.because
    assert "other payers" in check.because  # and is no rule for everybody


def test_ways_are_compared_in_days_of_good_fit() -> None:
    made = plan(recast=recast(best_in=40))
    ways = {option.code: option for option in made.options}
    assert [ways[code].good_days.value for code in ("definitive-now", "diagnostic-then-definitive", "wait")] == [
        170,
        195,
        212,
    ]
    assert ways["keep"].good_days is None
    assert "170 days [120 to 230] of good fit" in ways["definitive-now"].because
    assert "A cast about 25 October [11 October to 22 November] would serve longest." in ways["wait"].because
    assert "tells the coming change to within one thin sock for 60 days" in made.fit_note


def test_where_today_is_best_waiting_names_no_better_day() -> None:
    ways = {option.code: option for option in plan(recast=recast(best_in=0)).options}
    assert "would serve longest" not in ways["wait"].because and ways["wait"].good_days is None


def test_days_of_good_fit_are_not_said_where_they_are_not_known() -> None:
    made = plan(state="gathering", outlook=(), recast=None)
    assert made.fit_note is None
    assert all(option.good_days is None and "good fit" not in option.because for option in made.options)


def test_a_log_too_short_to_tell_two_weeks_says_so() -> None:
    assert "does not yet tell" in plan(recast=recast(20, reaches=0)).fit_note
