"""What was said, held against what the log showed later: a simulated caseload's truth, and the cases that mislead."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from statistics import median

import numpy as np
import pytest

from plytide.engine.own_record import Figure, LimbRecord, figures
from plytide.engine.said import AROUND_STEADY, Shown, comings, good_fit, is_due, levels, said_of, steadies
from plytide.engine.volume import assess_volume
from plytide.engine.volume.constants import AIM
from plytide.model import Assessment, CheckIn, Estimate, Limb, LimbHistory, Said, Sock, Socket
from seed_demo.cohort import COHORTS, Simulated, cohort

MARGIN, DAYS = 0.7, 160
START = date(2026, 1, 5)


@cache
def caseload(name: str = "first", sockets: int = 2) -> list[Simulated]:
    return cohort(300, 15, replace(COHORTS[name], days=DAYS, sockets=sockets))


def start_of(person: Simulated) -> date:
    return person.history.sockets[0].fitted_on


@cache
def spoken(name: str = "first", sockets: int = 2) -> list[list[Said]]:
    """What the engine itself says of each, once a week."""
    people = caseload(name, sockets)
    days = range(15, DAYS - 34, 7)
    dates = [[start_of(person) + timedelta(days=day) for day in days] for person in people]
    found = assess_volume([person.history for person in people], dates, chart=False)

    def mm(told: Estimate | None) -> tuple[float, float] | None:
        return (told.low, told.high) if told else None

    return [
        [
            Said(
                view.as_of, "steady" if view.steady else "changing", MARGIN,
                mm(view.change_mm) if view.enough else None, mm(view.coming_28d_mm),
            )
            for view in row
        ]
        for row in found
    ]  # fmt: skip


def held(told: tuple[float, float], true: float) -> bool:
    return told[0] <= true <= told[1]


def one(found: list[Figure], code: str) -> Figure:
    return next(each for each in found if each.code == code)


@pytest.mark.parametrize(("name", "sockets"), [("first", 2), ("quick", 1)])
def test_a_caseload_of_three_hundred_is_told_as_it_is(name: str, sockets: int) -> None:
    """Each interval holds the share that is true of what the engine said, of limbs whose truth it can't see."""
    people, limbs = caseload(name, sockets), []
    truth: dict[str, list[bool]] = {code: [] for code in ("level-held", "coming-held", "steady-28", "steady-90")}
    for person, told in zip(people, spoken(name, sockets), strict=True):
        limbs.append(LimbRecord(person.history.limb.id, person.history, tuple(told)))
        before = ""
        for each in told:
            day = (each.on - start_of(person)).days
            if each.change:
                truth["level-held"].append(held(each.change, person.truth.change_mm(day)))
            if each.coming and not person.truth.across(day, day + 28):
                truth["coming-held"].append(held(each.coming, person.truth.between_mm(day, day + 28)))
            for ahead in (28, 90):
                over = day + ahead + AROUND_STEADY
                if each.state == "steady" != before and over <= DAYS and not person.truth.across(day, day + ahead):
                    truth[f"steady-{ahead}"].append(abs(person.truth.between_mm(day, day + ahead)) <= MARGIN)
            before = each.state
    today = max(map(start_of, people)) + timedelta(days=DAYS)
    found = figures(limbs, [], today)
    for code, true in truth.items():
        figure = one(found, code)
        assert figure.interval is not None and figure.people > 100, code
        assert figure.cases > 0.75 * len(true), (code, figure.cases, len(true))
        assert figure.interval.low <= np.mean(true) <= figure.interval.high, (code, figure, np.mean(true))
        assert figure.interval.high - figure.interval.low < 0.17, code


def test_a_promise_that_is_not_kept_is_seen() -> None:
    """Ranges without any width, and 0.4 mm off, hold seldom."""
    people = caseload()
    today = max(map(start_of, people)) + timedelta(days=DAYS)
    shares = []
    for wide in (1.0, 0.0):
        limbs = [
            LimbRecord(person.history.limb.id, person.history, tuple(_drawn_in(each, wide) for each in told))
            for person, told in zip(people, spoken(), strict=True)
        ]
        found = figures(limbs, [], today)
        shares.append([one(found, code).interval for code in ("level-held", "coming-held")])
    for before, after in zip(*shares, strict=True):
        assert before is not None and after is not None and after.high < before.low


def _drawn_in(said: Said, wide: float) -> Said:
    def narrow(told: tuple[float, float] | None) -> tuple[float, float] | None:
        if told is None:
            return None
        middle, half = sum(told) / 2 + (1.0 - wide) * 0.4, wide * (told[1] - told[0]) / 2
        return middle - half, middle + half

    return replace(said, change=narrow(said.change), coming=narrow(said.coming))


def test_days_of_good_fit_are_those_of_the_true_need() -> None:
    good, known, over = 0, 0, []
    limbs = [LimbRecord(person.history.limb.id, person.history) for person in caseload()]
    for person in caseload():
        need = person.needs.mean(axis=1)
        made_for = {start: mm for start, _, mm in Shown.of(person.history).worn}
        fitted = person.truth.fitted
        for n, day in enumerate(fitted):
            end = fitted[n + 1] if n + 1 < len(fitted) else DAYS + 1
            mm = made_for[(start_of(person) + timedelta(days=day)).toordinal()]
            assert mm is not None
            slow = [need[max(day, each - 7) : min(end, each + 8)].mean() for each in range(day, end)]
            fits = sum(abs(each - mm) <= AIM.band for each in slow)
            good, known = good + fits, known + end - day
            over += [fits] if n + 1 < len(fitted) else []
    today = max(start_of(person) for person in caseload()) + timedelta(days=DAYS)
    found = figures(limbs, [], today)
    share, days = one(found, "good-share").interval, one(found, "good-days").interval
    assert share is not None and days is not None
    assert share.low <= good / known <= share.high, (share, good / known)
    assert days.low <= median(over) <= days.high, (days, median(over))


# The cases that mislead.


def entry(day: int, ply: int) -> CheckIn:
    return CheckIn(f"c{day}", "a", START + timedelta(days=day), (Sock(ply, "single"),), 7)


ONE_SOCKET = (Socket("s", START, stack_at_fitting=(Sock(3, "single"),)),)


def history(*checkins: CheckIn, sockets: tuple[Socket, ...] = ONE_SOCKET) -> LimbHistory:
    return LimbHistory(Limb("a"), sockets, checkins=checkins)


def steady(day: int, state: str = "steady") -> Said:
    return Said(START + timedelta(days=day), state, MARGIN, (-0.2, 0.2), (-0.3, 0.3))


LONG_AFTER = START + timedelta(days=400)
SAME = tuple(entry(day, 3) for day in range(150))
SHRINKS = tuple(
    CheckIn(f"c{d}", "a", START + timedelta(days=d), (Sock(3, "single"), *([Sock(3, "single")] * (d >= 60))), 7)
    for d in range(150)
)


@pytest.mark.parametrize(("log", "after_28", "after_90"), [(SAME, True, True), (SHRINKS, True, False)])
def test_steady_is_counted_from_the_day_it_was_said_anew(
    log: tuple[CheckIn, ...], after_28: bool, after_90: bool
) -> None:
    told = [steady(10, "settling"), *(steady(day) for day in (18, 25, 32))]
    shown = Shown.of(history(*log))
    assert [each.held for each in steadies(shown, told, 28, LONG_AFTER)] == [True] == [after_28]
    assert [each.held for each in steadies(shown, told, 90, LONG_AFTER)] == [after_90]
    again = [*told, steady(39, "changing"), steady(41)]
    assert [each.on for each in steadies(shown, again, 28, LONG_AFTER)] == [told[1].on, again[-1].on]


def test_nothing_is_counted_before_its_time_is_over() -> None:
    shown, told = Shown.of(history(*SAME)), [steady(18)]
    for days, count in ((18 + 28 + AROUND_STEADY - 1, 0), (18 + 28 + AROUND_STEADY, 1)):
        assert len(list(steadies(shown, told, 28, START + timedelta(days=days)))) == count
    for days, count in ((18 + 34, 0), (18 + 35, 1)):
        assert len(list(comings(shown, told, START + timedelta(days=days)))) == count


def test_a_late_entry_changes_what_is_known_and_never_what_was_said() -> None:
    """Silent after it was said: not told. Entries that come late tell it, and the saying stays as it was."""
    told = [steady(18)]
    silent = [each.held for each in steadies(Shown.of(history(*SAME[:30])), told, 28, LONG_AFTER)]
    late = [each.held for each in steadies(Shown.of(history(*SAME)), told, 28, LONG_AFTER)]
    moved = tuple(replace(one, stack=(Sock(5, "single"), Sock(1, "single"))) for one in SAME[31:])
    other = [each.held for each in steadies(Shown.of(history(*SAME[:31], *moved)), told, 28, LONG_AFTER)]
    assert (silent, late, other) == ([None], [True], [False])
    put_right = tuple(replace(one, id=f"r{one.id}", replaces=one.id, stack=(Sock(3, "single"),)) for one in moved)
    mended = history(*SAME[:31], *moved, *put_right)
    assert [each.held for each in steadies(Shown.of(mended), told, 28, LONG_AFTER)] == [True]


def test_an_imported_log_shows_days_of_good_fit_and_was_told_nothing() -> None:
    found = figures([LimbRecord(f"p{n}", history(*SAME)) for n in range(6)], [], LONG_AFTER)
    assert (one(found, "steady-28").cases, one(found, "level-held").cases) == (0, 0)
    share = one(found, "good-share").interval
    assert share is not None and share.value == 1.0


def test_two_sockets_at_once_are_no_fault_and_another_one_between_is_not_told() -> None:
    second = Socket("t", START + timedelta(days=40), stack_at_fitting=(Sock(1, "single"),))
    both = (Socket("s", START, stack_at_fitting=(Sock(3, "single"),)), second)  # the first was never retired
    shown = Shown.of(history(*SAME, sockets=both))
    told = [steady(18), steady(60, "changing"), steady(67)]
    assert [each.held for each in steadies(shown, told, 28, LONG_AFTER)] == [None, True]
    assert [(fit.known, fit.worn) for fit in good_fit(shown, START + timedelta(days=149))] == [(40, False), (110, True)]
    given_up = (replace(both[0], retired_on=START + timedelta(days=40)),)
    ended = Shown.of(history(*SAME, sockets=given_up))
    assert [each.held for each in comings(ended, [steady(60)], LONG_AFTER)] == [None]  # no socket is worn then
    same_day = (both[0], Socket("u", START, stack_at_fitting=(Sock(1, "single"),)))
    assert [fit.known for fit in good_fit(Shown.of(history(*SAME, sockets=same_day)), LONG_AFTER)] == [154]


def test_what_a_socket_was_made_for_that_nobody_entered_is_not_guessed() -> None:
    unknown = Shown.of(history(*SAME, sockets=(Socket("s", START, stack_at_fitting=None),)))
    assert list(good_fit(unknown, LONG_AFTER)) == []
    assert [each.held for each in levels(unknown, [steady(30)], LONG_AFTER)] == [None]
    assert list(good_fit(Shown.of(LimbHistory(Limb("a"))), LONG_AFTER)) == []


def test_three_people_are_words() -> None:
    limbs = [LimbRecord(f"p{n % 3}", history(*SAME), (steady(18), steady(25))) for n in range(30)]
    found = [each for each in figures(limbs, [], LONG_AFTER) if each.cases]
    assert {each.interval for each in found} == {None}
    assert {each.people for each in found} == {3}


def assessment(**more: object) -> Assessment:
    empty = dict.fromkeys(("change_28d_pct", "daily_swing_pct", "since", "settles_on"))
    told = {
        "change_pct": Estimate(-4.0, -6.0, -2.0),
        "coming_28d_pct": None,
        "reasons": (),
        "outlook": (),
        "signals": (),
    }
    return Assessment("a", START, 20, state="steady", **{**empty, **told, **more})  # type: ignore[arg-type]


def test_a_saying_is_kept_in_mm_and_does_not_move_with_the_limbs_size() -> None:
    limb = LimbHistory(Limb("a", reference_circumference_mm=314.159))  # 50 mm
    said = said_of(assessment(), limb, MARGIN)
    assert said.change == pytest.approx((0.503, 1.523), abs=0.01) and said.coming is None
    chart = said_of(assessment(band=((START, Estimate(-4.0, -5.0, -3.0)),)), limb, MARGIN)
    assert chart.change == pytest.approx((0.756, 1.266), abs=0.01)
    unknown = assessment(change_pct=None, band=((START, Estimate(-4.0, -5.0, -3.0)),))
    assert said_of(unknown, limb, MARGIN).change is None


def test_a_saying_is_kept_each_week_and_when_the_state_is_another_one() -> None:
    first = steady(0)
    assert is_due(None, first) and not is_due(first, steady(6)) and is_due(first, steady(7))
    assert is_due(first, steady(0, "held"))
