"""A hold by skin ends with clear looks on later days and a person at the clinic who saw it; never by days alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from plytide.engine.assess import assess
from plytide.engine.planner import plan_of
from plytide.engine.thresholds import DEFAULTS
from plytide.model import CheckIn, Limb, LimbHistory, SkinFinding, Sock, Socket
from plytide.storage.history import clinic_looks
from tests.actors import Cast, Clock
from tests.wire.test_history import HISTORY
from tests.work.test_assess_lines import answers

START = date(2025, 5, 5)
ALARM = 20
BLISTER = (SkinFinding("shin", "blister"),)


def day(n: int) -> date:
    return START + timedelta(days=n)


def wounded(
    clear: tuple[int, ...] = (), looks: tuple[int, ...] | None = (), length: int = 80, **alarm: Any
) -> LimbHistory:
    """A blister on day 20 of a long log; looked at and clear on the days named, and seen by the clinic on others."""
    checkins = tuple(
        CheckIn(
            id=f"c{n}", limb_id="a", date=day(n), stack=(Sock(3, "single"),), comfort=8,
            skin_checked=n in clear, **({"skin": BLISTER, **alarm} if n == ALARM else {}),
        )
        for n in range(length)
    )  # fmt: skip
    limb = Limb("a", amputated_on=date(2024, 1, 1), reference_circumference_mm=300, born_on=date(1960, 1, 1))
    socket = Socket("s", START, stack_at_fitting=(Sock(3, "single"),), weight_limit_kg=100)
    known = None if looks is None else tuple(day(n) for n in looks)
    return LimbHistory(limb, (socket,), checkins=checkins, clinic_looks=known)


def held(history: LimbHistory, on: int) -> str | None:
    """The words of a hold by skin on a day, or None."""
    (found,) = assess(history, [day(on)])
    return next((reason.text for reason in found.reasons if reason.code == "skin-open"), None)


def test_days_alone_never_end_it() -> None:
    assert held(wounded(), 79)
    assert held(wounded(looks=(21, 40)), 79)


@pytest.mark.parametrize(
    ("clear", "looks", "over"),
    [
        ((22, 25), (), False),
        ((22, 25), (19,), False),  # before the report
        ((22,), (23,), False),
        ((22, 25), (20,), True),
        ((22, 25), (40,), True),
        ((20, 22), (23,), False),  # the day of the report is no later day
    ],
)
def test_it_takes_clear_looks_and_the_clinic(clear: tuple[int, ...], looks: tuple[int, ...], over: bool) -> None:
    assert (held(wounded(clear, looks), 50) is None) is over


def test_the_hold_says_what_it_waits_for() -> None:
    text = held(wounded((22,), ()), 30)
    assert text is not None
    assert "on 2 later days (so far on 27 May)" in text
    assert "nobody has acknowledged or closed it yet" in text
    assert "(on 28 May)" in str(held(wounded((22,), (23,)), 30))
    assert "so far on none" in str(held(wounded((), (23,)), 30))


def test_where_the_clinics_looks_are_not_known_clear_looks_decide_and_it_says_so() -> None:
    assert "the clinic's look is not known here" in str(held(wounded((22,), None), 79))
    assert held(wounded((22, 25), None), 79) is None


def test_a_look_before_the_entry_arrived_was_at_something_else() -> None:
    late = {"received_on": day(28)}
    assert held(wounded((22, 25), (26,), **late), 50)
    assert held(wounded((22, 25), (28,), **late), 50) is None


def test_a_second_report_opens_it_again_and_an_ended_one_is_another_episode() -> None:
    history = wounded((22, 25), (23,))
    again = tuple(replace(one, skin=BLISTER) if one.date == day(40) else one for one in history.checkins)
    for looks, since in (((day(23),), day(40)), ((), day(20))):
        (found,) = assess(replace(history, checkins=again, clinic_looks=looks), [day(41)])
        assert (found.state, found.since) == ("held", since)


@pytest.mark.parametrize(
    "sign", ["wound_edge_opening", "rash_spreads_or_blisters", "sock_stuck", "fast_spreading_redness"]
)
def test_open_or_spreading_skin_said_as_a_sign_of_danger_holds_too(sign: str) -> None:
    text = held(wounded(skin=(), signs=(sign,)), 30)
    assert text and "Open or changing skin" in text


def test_the_plan_says_what_is_missing() -> None:
    history = wounded((22, 25))
    (found,) = assess(history, [day(30)])
    checks = {check.code: check for check in plan_of(history, found, DEFAULTS).cast}
    assert checks["skin"].state == "stop"
    assert "nobody has acknowledged or closed it yet" in checks["skin"].because


def test_what_was_told_later_on_the_day_of_a_look_was_not_seen_in_it() -> None:
    looks = ["2025-05-20T10:00:00+00:00", "2025-05-20T12:00:00+00:00", "2025-05-22T09:00:00+00:00"]
    assert clinic_looks(looks, ["2025-05-20T11:00:00+00:00"]) == (date(2025, 5, 20), date(2025, 5, 22))
    assert clinic_looks(looks, ["2025-05-20T13:00:00+00:00"]) == (date(2025, 5, 22),)


def test_a_history_file_may_say_when_the_clinic_looked() -> None:
    first = date(2026, 5, 1)
    checkins = [
        {
            "id": f"c{n}", "date": (first + timedelta(days=n)).isoformat(), "stack": [{"ply": 3}], "comfort": 7,
            "skin": [{"place": "shin", "finding": "blister"}] if n == 5 else [], "skin_checked": n in (7, 9),
        }
        for n in range(20)
    ]  # fmt: skip
    history = {**HISTORY, "checkins": checkins, "as_of": "2026-05-20"}
    states = {}
    for name, looks in (("none", []), ("before", ["2026-05-02"]), ("after", ["2026-05-08"]), ("unknown", None)):
        (line,) = answers({**history, "clinic_looks": looks})[1]
        states[name] = line["readiness"]["state"]
    assert (states["none"], states["before"]) == ("held", "held")
    assert "held" not in (states["after"], states["unknown"])
    status, (line,) = answers({**history, "clinic_looks": ["soon"]})
    assert (status, line["error"]["field"]) == (1, "clinic_looks[0]")


def test_the_hold_ends_over_the_wire_when_somebody_closes_it_and_comes_back_with_the_undo(
    cast: Cast, today: date, clock: Clock
) -> None:
    """From the phone to the worklist: two clear looks do not end it, the clinic's deed does, and its undo brings it
    back.
    """
    skin = [{"place": "shin", "finding": "blister", "redness_minutes": None}]
    clock.forward(days=-2)  # what comes in together with the report clears nothing
    cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=4), skin=skin))
    clock.forward(days=2)
    for back in (3, 2):
        cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=back), skin_checked=True))

    def reasons() -> list[str]:
        story = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
        return [reason["code"] for reason in story["assessment"]["readiness"]["reasons"]]

    def row() -> dict[str, Any]:
        rows = cast.ida.get("/api/clinic/worklist").get_json()["limbs"]
        return next(one for one in rows if one["limb_id"] == cast.anouk.limb_id)

    assert row()["state"] == "held"
    assert "skin-open" in reasons()
    (signal,) = [one for one in row()["signals"] if one["kind"] == "skin"]
    clock.forward(minutes=1)
    cast.ida.made(f"/api/clinic/signals/{signal['id']}/acknowledge", {})
    assert "skin-open" not in reasons()
    assert row()["state"] != "held"  # without another entry: the deed itself makes the limb wait for a round
    cast.ida.made(f"/api/clinic/signals/{signal['id']}/undo", {})
    assert "skin-open" in reasons()
    assert row()["state"] == "held"


def test_limits_kept_by_an_older_version_are_still_read(cast: Cast) -> None:
    from plytide.work.reassess import thresholds_of

    assert thresholds_of({"thresholds": {"skin_closed_days": 30, "redness_minutes": 15}}).redness_minutes == 15
    assert cast.ida.patch("/api/clinic/settings", {"thresholds": {"skin_closed_days": 30}}).status_code == 422


def test_what_was_cleared_before_anybody_was_told_is_told_all_the_same(cast: Cast, today: date, clock: Clock) -> None:
    """No round fell between the report and the clear looks: the hold would wait for a look at nothing."""
    clock.forward(days=-3)
    cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=3), skin=[{"place": "shin", "finding": "blister"}]))
    clock.forward(days=3)
    for back in (2, 1):
        cast.anouk.sync(cast.anouk.checkin(today - timedelta(days=back), skin_checked=True))
    rows = cast.ida.get("/api/clinic/worklist").get_json()["limbs"]
    (signal,) = [
        one for row in rows for one in row["signals"] if one["limb_id"] == cast.anouk.limb_id and one["kind"] == "skin"
    ]
    assert (signal["level"], signal["rule"]) == ("call", "stop-wear-skin")
    assert "nobody at the clinic has acknowledged or closed it" in signal["because"]
