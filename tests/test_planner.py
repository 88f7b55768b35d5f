"""The planner: options with their numbers, checklists that stop where the trade stops, never an order."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from plytide.model import (
    Assessment,
    CheckIn,
    DateEstimate,
    Estimate,
    Limb,
    LimbHistory,
    Measurement,
    Outlook,
    Reason,
    SkinFinding,
    Sock,
    Socket,
    TapeLevel,
)
from plytide.planner import coming_after, plan_of
from plytide.thresholds import DEFAULTS

DAY = date(2025, 9, 15)
OUTLOOK = tuple(
    Outlook(days, Estimate(mm, mm - half, mm + half))
    for days, mm, half in ((14, 0.4, 0.2), (30, 0.8, 0.4), (60, 1.3, 0.7), (90, 1.6, 1.0))
)
LIMB = Limb("a", shape="conical", reference_circumference_mm=300, amputated_on=DAY - timedelta(days=70))
SOCKET = Socket("s", DAY - timedelta(days=40), stack_at_fitting=(Sock(1, "single"),), weight_limit_kg=100)


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


def plan(limb: Limb = LIMB, checkins: tuple[CheckIn, ...] = (checkin(),), measured: Any = (), **more: Any) -> Any:
    history = LimbHistory(limb, (SOCKET,), measurements=measured, checkins=checkins)
    return plan_of(history, assessment(**more), DEFAULTS)


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
    codes = [option.code for option in plan(state=state).options]
    assert codes[0] == first
    assert sorted(codes) == ["definitive-now", "diagnostic-then-definitive", "wait"]


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
        for option in plan(state=state).options:
            text = f"{option.words} {option.because}".lower()
            assert not any(word in text for word in ("must", "stable", "you should"))
