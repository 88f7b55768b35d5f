"""The clinic's own record: figures against a simulated caseload's truth, intervals against statsmodels and scipy."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from scipy.stats import binomtest
from statsmodels.stats.proportion import proportion_confint

from plytide.engine.core.counted import middle, share
from plytide.engine.own_record import Figure, LimbRecord, Matter, figures
from plytide.model import CheckIn, Limb, LimbHistory, Sock, Socket

START = date(2025, 1, 6)
THEN = datetime(2025, 6, 1, 8, tzinfo=UTC)


@pytest.mark.parametrize(("hits", "of"), [(0, 5), (1, 5), (5, 5), (7, 31), (299, 300), (150, 300)])
def test_a_share_has_wilsons_interval(hits: int, of: int) -> None:
    found = share(hits, of)
    for low, high in (
        proportion_confint(hits, of, alpha=0.10, method="wilson"),
        binomtest(hits, of).proportion_ci(0.90, method="wilson"),
    ):
        assert (found.low, found.high) == (pytest.approx(low, abs=1e-12), pytest.approx(high, abs=1e-12))
    assert 0 <= found.low <= found.value <= found.high <= 1


def test_no_share_is_taken_of_nothing() -> None:
    for hits, of in ((0, 0), (3, 2), (-1, 4)):
        with pytest.raises(ValueError, match="of"):
            share(hits, of)


def test_a_middle_has_an_interval_from_five_on_that_holds_the_truth_nine_times_in_ten() -> None:
    assert middle([]) is None and middle([1, 2, 3, 4]) is None
    five = middle([5, 1, 4, 2, 3])
    assert five is not None and (five.value, five.low, five.high) == (3, 1, 5)
    rng = np.random.default_rng(7)
    for n in (5, 12, 40):
        held = 0
        for _ in range(2000):
            found = middle(list(rng.lognormal(0, 1, n)))
            assert found is not None
            held += found.low <= 1.0 <= found.high
        assert held / 2000 >= 0.885, n  # at least 0.90, less three standard errors


def socket(day: int, purpose: str = "definitive") -> Socket:
    return Socket(f"s{day}", START + timedelta(days=day), purpose=purpose)


def limb(person: str, *sockets: Socket, checkins: tuple[CheckIn, ...] = ()) -> LimbRecord:
    return LimbRecord(person, LimbHistory(Limb(person), sockets, checkins=checkins))


def said(day: int, *plies: int, comfort: int = 7) -> CheckIn:
    return CheckIn(f"c{day}", "a", START + timedelta(days=day), tuple(Sock(ply, "single") for ply in plies), comfort)


def one(found: list[Figure], code: str, kind: str | None = None) -> Figure:
    return next(each for each in found if (each.code, each.kind) == (code, kind))


def test_under_five_people_there_is_no_figure_however_many_cases() -> None:
    many = [limb(f"p{n % 4}", socket(0, "diagnostic"), socket(90 + n)) for n in range(40)]
    told = [Matter(f"p{n % 4}", "skin", THEN, THEN) for n in range(40)]
    found = figures(many, told)
    assert [each.interval for each in found] == [None] * len(found)
    assert (one(found, "acted-on", "skin").people, one(found, "acted-on", "skin").cases) == (4, 40)
    five = one(figures([*many, limb("p5", socket(0, "diagnostic"), socket(90))], told), "first-to-definitive")
    assert five.people == 5 and five.interval is not None


def test_one_person_with_many_cases_is_one_person() -> None:
    """Before: twenty late answers to one person were the clinic's middle, and made its interval narrow."""
    day, hour = timedelta(days=1), timedelta(hours=1)
    told = [Matter("many", "skin", THEN, THEN + 4 * day)] * 20
    told += [Matter(f"p{n}", "skin", THEN, THEN + hour) for n in range(6)]
    hours = one(figures([], told), "time-to-answer", "skin")
    assert (hours.people, hours.cases) == (7, 26)
    assert hours.interval is not None and (hours.interval.value, hours.interval.low) == (1, 1)


def test_a_share_of_people_with_many_cases_each_holds_the_truth_nine_times_in_ten() -> None:
    """Some people's signals are nearly all acted on, others' seldom: as if there were fewer cases than there are."""
    rng, held, tries = np.random.default_rng(15), 0, 600
    for _ in range(tries):
        own = rng.beta(1.2, 0.8, 30)  # 0.6 in the middle
        told = [
            Matter(f"p{n}", "skin", THEN, THEN if rng.random() < chance else None)
            for n, chance in enumerate(own)
            for _ in range(12)
        ]
        interval = one(figures([], told), "acted-on", "skin").interval
        assert interval is not None
        held += interval.low <= 0.6 <= interval.high
    assert held / tries >= 0.86, held / tries  # 0.90, less three standard errors
    always = one(figures([], [Matter(f"p{n % 5}", "skin", THEN, THEN) for n in range(100)]), "acted-on", "skin")
    assert always.interval == share(5, 5)  # a hundred of five people prove no more than five


def test_an_empty_clinic_has_words_for_everything_and_figures_for_nothing() -> None:
    assert all((each.cases, each.interval) == (0, None) for each in figures([], []))


def test_what_is_counted_of_sockets() -> None:
    log = tuple(said(day, 5, 1, comfort=4) for day in range(80, 90)) + tuple(
        said(day, 1, comfort=8) for day in range(90, 130)
    )
    limbs = [limb(f"p{n}", socket(0, "diagnostic"), socket(90), checkins=log) for n in range(5)]
    limbs += [limb("q", socket(0)), limb("r", socket(0, "preparatory"))]
    found = figures(limbs, [])
    days, remakes, sock, comfort = (
        one(found, code) for code in ("first-to-definitive", "remakes", "sock-at-recast", "comfort-change")
    )
    assert days.interval is not None and (days.interval.value, days.cases) == (90, 5)
    assert remakes.interval is not None and (remakes.interval.value, remakes.people) == (1, 7)
    remade = one(found, "remade").interval
    assert remade is not None and remade.value == pytest.approx(5 / 7)
    assert sock.interval is not None and sock.interval.value == pytest.approx(2.2)
    assert comfort.interval is not None and comfort.interval.value == 4


def test_a_correction_that_comes_late_changes_what_is_known() -> None:
    log = (*(said(day, 5, 1) for day in range(85, 90)), *(said(day, 1) for day in range(90, 130)))
    fixed = tuple(
        CheckIn(f"f{day}", "a", START + timedelta(days=day), (Sock(3, "single"),), 7, replaces=f"c{day}")
        for day in range(85, 90)
    )
    for checkins, mm in ((log, 2.2), (log + fixed, 1.2)):
        limbs = [limb(f"p{n}", socket(0, "diagnostic"), socket(90), checkins=checkins) for n in range(5)]
        sock = one(figures(limbs, []), "sock-at-recast").interval
        assert sock is not None and sock.value == pytest.approx(mm)


def test_a_simulated_caseload_of_three_hundred_is_told_as_it_is() -> None:
    """Truth: a median of 120 days to the definitive, 80 in 100 signals acted on after a median of 20 hours."""
    rng = np.random.default_rng(300)
    inside = dict.fromkeys(("days", "share", "hours"), 0)
    for _ in range(40):
        days = np.round(rng.lognormal(np.log(120), 0.4, 300))
        limbs = [limb(f"p{n}", socket(0, "diagnostic"), socket(int(each))) for n, each in enumerate(days)]
        hours, acted = rng.lognormal(np.log(20), 1.0, 300), rng.random(300) < 0.8
        told = [
            Matter(f"p{n}", "skin", THEN, THEN + timedelta(hours=float(hours[n])) if acted[n] else None)
            for n in range(300)
        ]
        found = figures(limbs, told)
        for name, code, kind, truth in (
            ("days", "first-to-definitive", None, 120), ("share", "acted-on", "skin", 0.8),
            ("hours", "time-to-answer", "skin", 20),
        ):  # fmt: skip
            interval = one(found, code, kind).interval
            assert interval is not None
            inside[name] += interval.low <= truth <= interval.high
    # 40 tries of at least 0.9 each: fewer than 31 would be a chance of one in a thousand.
    assert min(inside.values()) >= 31, inside
