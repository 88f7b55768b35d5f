"""The clock of a diagnostic socket: when the clinic hears of it, what moves it, what holds it back."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from plytide.engine.assess import assess
from plytide.engine.remake import clock_of
from plytide.engine.thresholds import DEFAULTS, Thresholds
from plytide.model import CheckIn, Decision, Limb, LimbHistory, SkinFinding, Sock, Socket
from plytide.wire.history import read_line
from tests.actors import Cast

FITTED = date(2025, 9, 1)
SOCKET = Socket("s", FITTED, purpose="diagnostic", stack_at_fitting=(Sock(1, "single"),))
LIMB = Limb("a", reference_circumference_mm=300, amputated_on=FITTED - timedelta(days=60))


def day(n: int) -> date:
    return FITTED + timedelta(days=n)


def log(days: int, **last: Any) -> tuple[CheckIn, ...]:
    """A check-in a day from the fitting; `last` is what the last one says."""
    plain = [CheckIn(f"c{n}", "a", day(n), (Sock(1, "single"),), 8) for n in range(days + 1)]
    return (*plain[:-1], replace(plain[-1], **last))


def said(on: int, sockets: Any = (SOCKET,), **more: Any) -> Any:
    """(level, since) of what is said on day `on`, or None; and its words."""
    history = LimbHistory(LIMB, sockets, **{"checkins": log(on), **more})
    (found,) = assess(history, [day(on)])
    signal = next((one for one in found.signals if one.kind == "remake"), None)
    return (signal.level, signal.since, signal.because) if signal else None


@pytest.mark.parametrize(
    ("on", "level", "since"),
    [(0, None, 0), (6, None, 0), (7, "note", 7), (14, "note", 7), (21, "note", 7), (22, "call", 22), (60, "call", 22)],
)
def test_it_comes_near_and_is_missed(on: int, level: str | None, since: int) -> None:
    """Two to three weeks after a diagnostic socket: common practice."""
    found = said(on)
    assert (found and found[:2]) == ((level, day(since)) if level else None)


def test_its_words_name_the_days_and_what_they_stand_on() -> None:
    assert said(10)[2] == (
        "The definitive socket is planned for 15 to 22 September, 14 to 21 days after the diagnostic one of "
        "1 September (common practice). No visit is booked."
    )
    assert said(34)[2] == (
        "The definitive socket was planned by 22 September: the diagnostic one of 1 September has "
        "been worn for 34 days. "
        "No visit is booked."
    )


@pytest.mark.parametrize("purpose", ["preparatory", "definitive"])
def test_other_sockets_start_no_clock(purpose: str) -> None:
    assert said(60, (replace(SOCKET, purpose=purpose),)) is None


def test_a_later_socket_stops_it() -> None:
    assert said(30, (replace(SOCKET, retired_on=day(20)), Socket("t", day(20), purpose="definitive"))) is None


def test_a_visit_that_is_booked_in_time_is_the_answer() -> None:
    assert said(10, visits=(day(18),)) is None
    late = said(10, visits=(day(30),))
    assert late[0] == "note" and "The next visit is booked for 1 October." in late[2]
    assert said(25, visits=(day(18),))[0] == "call"  # it has been, and no socket came of it
    assert said(25, visits=(day(30),))[0] == "note"


def test_a_wait_with_a_date_moves_it_and_one_without_does_not() -> None:
    dated = (Decision(day(20), "wait", day(50)),)
    assert said(30, decisions=dated) is None
    assert said(45, decisions=dated)[:2] == ("note", day(43))
    assert said(51, decisions=dated)[:2] == ("call", day(51))
    assert "by the decision of 21 September" in said(51, decisions=dated)[2]
    assert said(30, decisions=(Decision(day(20), "wait"),))[0] == "call"
    assert said(30, decisions=(Decision(day(31), "wait", day(50)),))[0] == "call"  # a replay does not know it yet


def test_a_decision_for_a_diagnostic_socket_starts_it_too() -> None:
    worn = (Socket("o", FITTED - timedelta(days=300), purpose="definitive"),)
    made = (Decision(day(0), "diagnostic-then-definitive", day(2)),)
    assert said(8, worn, decisions=made) is None
    assert said(9, worn, decisions=made)[:2] == ("note", day(9))
    assert said(24, worn, decisions=made)[:2] == ("call", day(24))
    then = (*worn, replace(SOCKET, fitted_on=day(4)))
    clock = clock_of(LimbHistory(LIMB, then, decisions=made), day(5), DEFAULTS)
    assert clock and (clock.started_on, clock.first, clock.last) == (day(4), day(18), day(25))


def test_it_holds_back_while_the_limb_is_held_and_says_so() -> None:
    wound = log(25, skin=(SkinFinding("shin", "open_skin"),))
    found = said(25, checkins=wound)
    assert found[:2] == ("note", day(22))
    assert "It waits while a recast is on hold: Open or changing skin was reported" in found[2]


def test_the_clinics_own_days_count() -> None:
    own = Thresholds.from_json({"remake_from_days": 28, "remake_by_days": 42})
    clock = clock_of(LimbHistory(LIMB, (SOCKET,)), day(10), own)
    assert clock and (clock.first, clock.last) == (day(28), day(42))


def test_a_history_line_may_hold_decisions() -> None:
    line = {
        "limb": {"id": "a"},
        "sockets": [{"id": "s", "fitted_on": "2025-09-01", "purpose": "diagnostic"}],
        "decisions": [{"on": "2025-09-21", "choice": "wait", "planned_on": "2025-10-21"}],
        "as_of": "2025-10-01",
    }
    for decisions, kinds in ((line["decisions"], []), ([], ["remake"])):
        history, dates = read_line(json.dumps({**line, "decisions": decisions}))
        (found,) = assess(history, dates or [])
        assert [one.kind for one in found.signals] == kinds


def test_it_is_a_row_on_the_list_until_a_visit_is_booked(cast: Cast, today: date) -> None:
    """Over HTTP: fitted 30 days ago; what answers it is known at the next look."""
    limb = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    fitted = (today - timedelta(days=30)).isoformat()
    cast.ida.made(f"{limb}/sockets", {"fitted_on": fitted, "purpose": "diagnostic"})

    def row() -> Any:
        rows = cast.ida.get("/api/clinic/worklist").get_json()["limbs"]
        found = next(one for one in rows if one["limb_id"] == cast.anouk.limb_id)
        return found["urgency"], [(one["kind"], one["level"], one["holds"]) for one in found["signals"]]

    assert row() == (2, [("remake", "call", True)])
    assert cast.ida.get(f"{limb}/plan").get_json()["remake"]["stands"] == "missed"
    visit = {"on": (today + timedelta(days=3)).isoformat()}
    visit_id = cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/visits", visit)["id"]
    assert row() == (1, [("remake", "note", True)])
    cast.ida.patch(f"/api/clinic/visits/{visit_id}", {"cancelled": True})
    assert row()[0] == 2
    wait = {"on": today.isoformat(), "choice": "wait", "planned_on": (today + timedelta(days=40)).isoformat()}
    decision = cast.ida.made(f"{limb}/decisions", wait)["id"]
    assert row() == (1, [("remake", "call", False)])
    cast.ida.delete(f"/api/clinic/decisions/{decision}")
    assert row() == (2, [("remake", "call", True)])
