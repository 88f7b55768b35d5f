"""A growing limb: room left and by when it is used up, never "steady" with nothing to act on."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from plytide.engine.assess import assess, assess_caseload
from plytide.engine.core.room import Days, runs_out
from plytide.engine.facts import Facts
from plytide.export.visit_page import CHILD_ASK, CHILD_LOOK, visit_page
from plytide.model import Assessment, CheckIn, Limb, LimbHistory, Pad, Sock, Socket
from plytide.wire.history import assessment_to_json
from plytide.work import reassess
from seed_demo.cohort import cohort

START = date(2026, 1, 5)
CHILD = Limb("a", reference_circumference_mm=240, born_on=date(2018, 3, 1), tags=("congenital",))
SOCKET = Socket("s", START, stack_at_fitting=(Sock(3, "single"),))


def day(n: int) -> date:
    return START + timedelta(days=n)


def worn(days: int, stack: tuple[Sock, ...] = (Sock(3, "single"),), limb: Limb = CHILD) -> LimbHistory:
    said = [
        CheckIn(f"{n}{moment}", "a", day(n), stack, 8, moment=moment, fit="good")
        for n in range(days)
        for moment in ("putting_on", "end_of_day")
    ]
    return LimbHistory(limb, (replace(SOCKET, stack_at_fitting=stack),), checkins=tuple(said))


def on(days: int, history: LimbHistory) -> Assessment:
    return assess(history, [day(days - 1)])[0]


def test_nothing_moving_in_a_child_is_never_steady_with_nothing_to_act_on() -> None:
    found = on(100, worn(100))
    adult = on(100, worn(100, limb=replace(CHILD, born_on=date(1980, 1, 1))))
    assert adult.state == "steady" and adult.growth is None
    assert found.state not in ("steady", "settling") and found.reasons[0].code == "growing"
    why = reassess.why_of(assessment_to_json(found), [])[2]
    assert "Nothing to act on" not in why and "of sock is left to take off" in why
    words = " ".join([why, *(one.text for one in found.reasons)])
    assert "Steady" not in words and "settling" not in words.lower()


def test_the_room_is_the_sock_still_there_and_pads_are_no_sock() -> None:
    plain = on(60, worn(60)).growth
    padded = on(60, replace(worn(60), pads=(Pad("s", START, 0.8),))).growth
    assert plain and padded
    assert plain.room_mm.low < plain.room_mm.value < plain.room_mm.high
    assert plain.room_mm.value == pytest.approx(1.2, abs=0.5)
    assert padded.room_mm.value == pytest.approx(plain.room_mm.value, abs=0.35)


def test_room_that_soon_is_used_up_comes_up_on_the_list() -> None:
    ladder = [(Sock(3, "single"), Sock(1, "single")), (Sock(3, "single"),), (Sock(1, "single"),), (Sock(0, "single"),)]
    said = [CheckIn(f"{n}", "a", day(n), ladder[min(n // 28, 3)], 8, fit="good") for n in range(100)]
    found = on(84, LimbHistory(CHILD, (SOCKET,), checkins=tuple(said[:84])))
    out = found.growth and found.growth.runs_out
    assert out and out.date and out.low <= out.date
    assert out.date <= day(83) + timedelta(days=70)
    found = replace(found, state="changing")
    soon = replace(found, growth=replace(found.growth, runs_out=replace(out, date=day(90))))  # type: ignore[type-var]
    assert reassess.why_of(assessment_to_json(soon), [])[0] == 1
    later = replace(found.growth, runs_out=replace(out, date=day(83 + 43)))  # type: ignore[type-var]
    late = replace(found, growth=later)
    assert reassess.why_of(assessment_to_json(late), [])[0] == 0


def test_little_known_is_no_room_and_says_so() -> None:
    found = on(10, worn(10))
    assert found.growth is None and found.state == "gathering"
    assert assessment_to_json(found)["growth"] is None


# The arithmetic


def test_a_room_that_shrinks_evenly_is_used_up_when_it_says() -> None:
    """1.2 mm at 0.02 mm a day: 60 days; with no error low, middle and high are the same to a day."""
    assert runs_out(1.2, 0.0, [30, 90], [-0.6, -1.8], [0.0, 0.0]) == Days(60, 60, 61)


def test_the_interval_is_the_normals_own() -> None:
    """Only the room is unsure: 5 % of it lies 1.645 sd lower."""
    found = runs_out(1.2, 0.2, [100], [-2.0], [0.0])
    assert found.middle == 60
    assert found.low is not None and abs(found.low - (1.2 - 1.645 * 0.2) / 0.02) <= 1
    assert found.high is not None and abs(found.high - (1.2 + 1.645 * 0.2) / 0.02) <= 1


def test_a_room_that_does_not_shrink_is_not_used_up() -> None:
    assert runs_out(2.0, 0.1, [30, 90], [0.0, 0.0], [0.05, 0.1]) == Days(None, None, None)
    assert runs_out(2.0, 0.1, [30, 90], [0.1, 0.3], [0.3, 0.9]).middle is None


def test_more_room_is_never_used_up_sooner() -> None:
    found = [runs_out(room, 0.2, [30, 90], [-0.3, -0.9], [0.1, 0.3]) for room in (0.2, 0.8, 1.4, 2.0)]
    middles = [one.middle for one in found]
    assert middles == sorted(middles, key=lambda one: 999 if one is None else one)


def test_no_room_is_used_up_today() -> None:
    assert runs_out(0.0, 0.1, [30], [-0.1], [0.1]).middle == 0


# A rate on seeded stories


@pytest.fixture(scope="module")
def grown() -> list[tuple[Assessment, float, int]]:
    """(said, true need, day it is used up) of simulated children; the wobble averages out over a year."""
    children = [one for one in cohort(320, 5) if one.truth.trend == "growth"]
    dates = [[one.history.sockets[0].fitted_on + timedelta(days=n) for n in (45, 75, 105)] for one in children]
    found = assess_caseload([one.history for one in children], dates)
    rows: list[tuple[Assessment, float, int]] = []
    for one, row in zip(children, found, strict=True):
        slow = one.truth.level_mm[: len(one.needs)] + float(
            np.mean(one.needs[:, 1] - one.truth.level_mm[: len(one.needs)])
        )
        rate = float(slow[0] - slow[1])  # simulated children grow evenly
        for said in row:
            n = (said.as_of - one.history.sockets[0].fitted_on).days
            rows.append((said, float(slow[n]), round(float(slow[n]) / rate)))
    return rows


def test_the_room_of_growing_limbs_is_covered_nine_times_in_ten(
    grown: list[tuple[Assessment, float, int]],
) -> None:
    known = [(said.growth.room_mm, max(need, 0.0)) for said, need, _ in grown if said.growth]
    hits = [room.low - 1e-9 <= need <= room.high + 1e-9 for room, need in known]
    assert len(hits) > 60 and 0.83 <= np.mean(hits)


def test_the_day_it_is_used_up_is_not_told_too_late(grown: list[tuple[Assessment, float, int]]) -> None:
    """A far end before the true day is as it should be in 5 of 100; an early end after it is the harm."""
    told = [(said.growth.runs_out, said.as_of, gone) for said, _, gone in grown if said.growth and 0 < gone < 365]
    late = [out is None or out.low > as_of + timedelta(days=gone) for out, as_of, gone in told]
    assert len(told) > 30 and np.mean(late) <= 0.12


# The visit


def test_the_visit_page_asks_a_childs_questions_and_no_adults() -> None:
    child, adult = worn(60), worn(60, limb=replace(CHILD, born_on=date(1980, 1, 1)))
    page = visit_page(Facts.of(child), "Isla", on(60, child))
    assert set(CHILD_ASK) <= set(page.ask) and set(CHILD_LOOK) <= set(page.look)
    assert page.reading == "child, from birth" or page.reading == "child"
    assert not set(CHILD_ASK) & set(visit_page(Facts.of(adult), "A", on(60, adult)).ask)
