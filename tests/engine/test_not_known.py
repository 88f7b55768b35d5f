"""Where nothing is known of now, no figure stands beside that: first weeks, silence, a baseline nobody entered."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta

import pytest

from plytide.engine.assess import assess
from plytide.engine.facts import Facts
from plytide.engine.series import series_of
from plytide.export.visit_page import payer_page, visit_page
from plytide.model import Assessment, CheckIn, Limb, LimbHistory, Sock, Socket
from plytide.wire.history import assessment_to_json, read_line
from plytide.work import reassess

START = date(2026, 1, 5)
LIMB = Limb("a", amputated_on=date(2023, 1, 1), reference_circumference_mm=300, born_on=date(1960, 1, 1))
SOCKET = Socket("s", START, stack_at_fitting=(Sock(3, "single"),))


def day(n: int) -> date:
    return START + timedelta(days=n)


def history(until: int, limb: Limb = LIMB, socket: Socket = SOCKET, make: str = "single") -> LimbHistory:
    """The same stack and "good", each morning and evening up to day `until`."""
    said = [
        CheckIn(f"{n}{moment}", "a", day(n), (Sock(3, make),), 8, moment=moment, fit="good")
        for n in range(until + 1)
        for moment in ("putting_on", "end_of_day")
    ]
    return LimbHistory(limb, (socket,), checkins=tuple(said))


def on(n: int, until: int, **parts: object) -> Assessment:
    return assess(history(until, **parts), [day(n)])[0]  # type: ignore[arg-type]


FIGURES = ("change_pct", "change_28d_pct", "coming_28d_pct", "daily_swing_pct", "settles_on")


def bare(found: Assessment) -> bool:
    return all(getattr(found, name) is None for name in FIGURES) and found.outlook == () and found.growth is None


@pytest.mark.parametrize(("length", "state"), [(13, "gathering"), (14, None)])
def test_less_than_two_weeks_of_log_is_not_known_whatever_it_says(length: int, state: str | None) -> None:
    found = on(length, length)
    assert (found.state == "gathering") is (state == "gathering")
    assert bare(found) is (state == "gathering")
    assert (found.band == ()) is (state == "gathering")


@pytest.mark.parametrize(("quiet", "known"), [(7, True), (8, False), (60, False)])
def test_somebody_silent_is_not_known_and_no_figure_stands_beside_it(quiet: int, known: bool) -> None:
    found = on(80 + quiet, 80)
    assert (found.state != "gathering") is known
    assert bare(found) is not known
    if not known:
        assert found.reasons[0].code == "no-recent-days" and "no forecast is given" in found.reasons[0].text
        assert found.band[-1][0] == day(80)  # the chart ends with the log
        assert reassess.spark_of(found) == []


def test_silence_is_said_under_a_hold_too() -> None:
    """A state that comes first does not bring the figures back."""
    found = on(100, 80, limb=replace(LIMB, tags=("pregnancy",)))
    assert found.state == "held" and bare(found)
    assert "no-recent-days" in [one.code for one in found.reasons]


def test_the_row_the_visit_page_and_the_payers_page_say_that_it_is_not_known() -> None:
    found, facts = on(100, 80), Facts.of(history(80))
    assert "is not known" in reassess.why_of(assessment_to_json(found), []).words
    page = visit_page(facts, "Wren", found)
    assert page.state.startswith("No check-in for 20 days") and not any("%" in line.text for line in page.changed)
    assert any("not known" in line.text for line in page.changed)
    heads = payer_page(facts, "Wren", found)
    assert any("not known" in line.text for line in heads[0].lines)
    assert not any("%" in line.text for line in heads[0].lines)


# No baseline


UNENTERED = replace(SOCKET, stack_at_fitting=None)


def line(**socket: object) -> str:
    return json.dumps(
        {"limb": {"id": "a"}, "sockets": [{"id": "s", "fitted_on": "2026-01-05", "purpose": "definitive", **socket}]}
    )


@pytest.mark.parametrize(
    ("socket", "stack", "unsure"),
    [({}, None, False), ({"stack_at_fitting": None}, None, False), ({"stack_at_fitting": []}, (), True)],
)
def test_a_file_may_leave_the_baseline_out(socket: dict[str, object], stack: object, unsure: bool) -> None:
    one = read_line(line(**socket))[0].sockets[0]
    assert (one.stack_at_fitting, one.baseline_unsure) == (stack, unsure)


def test_no_baseline_is_not_taken_for_no_sock() -> None:
    """1.2 mm worn from the first day on is no loss of 1.2 mm since the fitting, and the first log is the baseline."""
    found = on(60, 60, socket=UNENTERED)
    assert found.change_pct is not None and found.change_pct.low <= 0.5 and found.change_pct.high >= -0.5
    bare_then = on(60, 60, socket=replace(SOCKET, stack_at_fitting=()))
    assert bare_then.change_pct is not None and bare_then.change_pct.value < found.change_pct.value
    text = next(one.text for one in found.reasons if one.code == "no-baseline")
    assert (
        text
        == "The sock stack at fitting is not entered. Change is counted from the first log in this socket, 5 January."
    )
    assert "no-baseline" not in [one.code for one in bare_then.reasons]


def test_a_baseline_that_was_not_entered_never_reaches_back() -> None:
    """The first log in it comes two days late: what was said before is said again in a replay."""
    old, new = SOCKET, Socket("t", day(40), stack_at_fitting=None)
    all_of_it = history(70)
    kept = [one for one in all_of_it.checkins if not day(40) <= one.date < day(42)]
    whole = replace(all_of_it, sockets=(old, new), checkins=tuple(kept))
    then = replace(whole, checkins=tuple(one for one in kept if one.date <= day(41)))
    assert series_of(whole).baseline[1][0] == day(42).toordinal()
    a, b = assess(whole, [day(41), day(70)])[0], assess(then, [day(41)])[0]
    assert (a.change_pct, a.state) == (b.change_pct, b.state)


@pytest.mark.parametrize(
    ("limb", "socket", "make", "codes"),
    [
        (LIMB, SOCKET, "single", []),
        (replace(LIMB, reference_circumference_mm=None), SOCKET, "single", ["no-circumference"]),
        (LIMB, UNENTERED, "single", ["no-baseline"]),
        (LIMB, replace(SOCKET, stack_at_fitting=(), baseline_unsure=True), "single", ["baseline-unsure"]),
        (LIMB, SOCKET, "unknown", ["unknown-make"]),
    ],
)
def test_a_percent_says_what_it_lacks_wherever_it_is_shown(
    limb: Limb, socket: Socket, make: str, codes: list[str]
) -> None:
    found = on(60, 60, limb=limb, socket=socket, make=make)
    assert [one.code for one in found.lacks] == codes
    assert assessment_to_json(found)["lacks"] == [{"code": one.code, "text": one.text} for one in found.lacks]
    facts = Facts.of(history(60, limb, socket, make))
    shown = [
        one.text
        for one in (*visit_page(facts, "W", found).changed, *payer_page(facts, "W", found)[0].lines)
        if one.text.startswith(("Volume since", "Volume against"))
    ]
    assert len(shown) == 2 and all(one.text in text for one in found.lacks for text in shown)


@pytest.mark.parametrize(
    ("socket", "words"),
    [
        (UNENTERED, "sock stack at fitting not entered"),
        (replace(SOCKET, stack_at_fitting=()), "no sock then."),
        (replace(SOCKET, stack_at_fitting=(), baseline_unsure=True), "no sock then, or not entered"),
        (SOCKET, "3-ply (1.2 mm) then"),
    ],
)
def test_the_visit_page_tells_no_sock_from_not_entered(socket: Socket, words: str) -> None:
    page = visit_page(Facts.of(history(60, socket=socket)), "W", on(60, 60, socket=socket))
    assert words in page.socket
