"""The simulated cohort, the scores, and rates on seeded simulations: how often, how late, how well covered.

Gneiting & Raftery 2007 (CRPS, interval score): confirmed where the reference file says so, else computed.
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from plytide.engine.assess import assess_caseload
from seed_demo.cohort import HABITS, TRENDS, Knobs, Simulated, cohort, contract_lines
from seed_demo.evaluate import MARGIN, NEVER, Reading, explained, pct, read, read_days, rule_of_thumb, run, score
from seed_demo.scoring import coverage, crps_normal, interval_score, pinball
from tests.engine.core.published import table

BOOK = table("forecast_scoring_reference.json")


@pytest.mark.parametrize("y", [-3, -1, 0, 0.5, 1, 2])
def test_crps_of_a_normal_is_the_published_one(y: float) -> None:
    assert crps_normal(0.0, 1.0, y) == pytest.approx(BOOK["crps_values"][f"y={y}"], abs=1e-9)


def test_crps_scales_with_the_forecast() -> None:
    assert crps_normal(1.0, 0.8, 2.5) == pytest.approx(BOOK["scaled"]["y=2.5,mu=1,sd=0.8"], abs=1e-9)


@pytest.mark.parametrize("example", BOOK["interval_score"]["examples"])
def test_interval_score_examples(example: dict[str, float]) -> None:
    assert interval_score(example["l"], example["u"], example["y"], example["alpha"]) == example["value"]


def test_pinball_example() -> None:
    example = BOOK["pinball"]["example"]
    assert pinball(example["q"], example["y"], example["tau"]) == pytest.approx(BOOK["pinball"].get("value", 0.2))


def test_a_perfect_forecaster_scores_and_covers_as_expected() -> None:
    y = np.random.default_rng(1).normal(size=20000)
    assert interval_score(-1.6449, 1.6449, y) == pytest.approx(
        BOOK["interval_score"]["expected_for_perfect_N01_90"], rel=0.02
    )
    assert crps_normal(0.0, 1.0, y) == pytest.approx(BOOK["expected_crps_perfect_normal"], rel=0.02)
    assert coverage(-1.6449, 1.6449, y) == pytest.approx(0.9, abs=0.01)


# The cohort


@pytest.fixture(scope="module")
def people() -> list[Simulated]:
    return cohort(150, 77)


def test_the_same_seed_makes_the_same_limbs() -> None:
    one, two = cohort(3, 5), cohort(3, 5)
    assert [p.history for p in one] == [p.history for p in two]
    assert cohort(3, 6)[0].history != one[0].history


def test_a_limb_does_not_depend_on_how_many_are_made() -> None:
    assert cohort(2, 5)[1].history == cohort(9, 5)[1].history


def test_every_trend_and_habit_is_there(people: list[Simulated]) -> None:
    assert {p.truth.trend for p in people} == set(TRENDS) and {p.truth.habit for p in people} == set(HABITS)


def test_limbs_and_gaps_are_as_wide_as_promised(people: list[Simulated]) -> None:
    around = [p.history.limb.reference_circumference_mm or 0 for p in people]
    assert min(around) < 230 and max(around) > 400
    days = [len({c.date for c in p.history.checkins}) / 121 for p in people]
    assert min(days) < 0.5 and max(days) > 0.85


def test_who_always_says_good_always_does(people: list[Simulated]) -> None:
    for person in people:
        if person.truth.habit == "always-good":
            assert {c.fit for c in person.history.checkins} == {"good"}


def test_a_step_is_in_the_truth_where_it_says(people: list[Simulated]) -> None:
    for person in people:
        day = person.truth.step_day
        if day is not None:
            moved = person.truth.level_mm[day] - person.truth.level_mm[day - 1]
            assert moved == pytest.approx(person.truth.step_mm, abs=0.12)
            share = abs(person.truth.step_mm) / (person.truth.radius_mm / 200)
            assert 2 <= share <= 5


def test_the_lines_are_those_assess_reads(people: list[Simulated]) -> None:
    from plytide.wire.history import read_line

    for person, line in zip(people[:10], contract_lines(people), strict=False):
        history, _ = read_line(json.dumps(line))
        assert history.limb == person.history.limb
        assert history.sockets == person.history.sockets
        assert history.measurements == tuple(
            replace(m, minutes_since_doffing=None) for m in person.history.measurements
        )
        assert len(history.checkins) == len(person.history.checkins)
        assert [c.stack for c in history.checkins] == [c.stack for c in person.history.checkins]


# Scoring


def reading(person: Simulated, steady_from: int | None = None, alarms: list[tuple[int, str]] | None = None) -> Reading:
    days = np.arange(person.days + 1)
    steady = days >= steady_from if steady_from is not None else days < 0
    return Reading(steady, np.ones(len(days), np.bool_), alarms or [])


def test_a_limb_called_too_early_counts_as_wrong_and_one_called_late_as_delay(people: list[Simulated]) -> None:
    moving = [p for p in people if p.truth.trend == "settling-exp" and p.truth.smooth_coming_mm()[0] > 2 * MARGIN]
    person = next(p for p in moving if 5 < np.argmax(np.abs(p.truth.smooth_coming_mm()) <= MARGIN) < 90)
    true = int(np.argmax(np.abs(person.truth.smooth_coming_mm()) <= MARGIN))
    early = score([person], [reading(person, true - 1)])
    late = score([person], [reading(person, true + 9)])
    never = score([person], [reading(person)])
    assert early["wrongly steady %"] == 100 and late["wrongly steady %"] == 0
    assert late["delay, settling d"] == 9 and never["delay, settling d"] == NEVER


def test_only_the_right_direction_in_time_explains_an_alarm(people: list[Simulated]) -> None:
    person = next(p for p in people if p.truth.step_day is not None and p.truth.step_mm > 0)
    day = person.truth.step_day
    assert day is not None
    assert explained(person.truth, day + 3, "volume-loss")
    assert not explained(person.truth, day + 3, "volume-gain")
    assert not explained(person.truth, day - 1, "volume-loss")
    found = score([person], [reading(person, alarms=[(day + 3, "volume-loss"), (2, "volume-gain")])])
    assert found["found in 14 d %"] == 100 and found["delay, found d"] == 3
    assert found["false alarms a year"] == pytest.approx(365.25 / 121)


# Rates


@pytest.fixture(scope="module")
def figures(people: list[Simulated]) -> dict[str, float]:
    return score(people, read(people))


def test_the_intervals_cover_about_nine_in_ten(figures: dict[str, float]) -> None:
    """150 limbs x 16 days, dependent within a limb: 90 % give or take 5."""
    assert 85 <= figures["change covered %"] <= 95
    assert 86 <= figures["coming covered %"] <= 97
    assert 85 <= figures["28 days covered %"] <= 95


def test_settling_limbs_are_hardly_ever_called_steady(figures: dict[str, float]) -> None:
    """At most 3 % is the goal; with about 60 settling limbs, 8 % is what luck can make of it."""
    assert figures["wrongly steady %"] <= 8


def test_most_steady_days_are_called(figures: dict[str, float]) -> None:
    assert figures["steady days called %"] >= 62


def test_most_sudden_changes_are_found_soon_at_few_false_alarms(figures: dict[str, float]) -> None:
    """About 70 % of 39 steps, give or take 15, and 0.3 false alarms a year in 50 years."""
    assert figures["found in 14 d %"] >= 55 and figures["delay, found d"] <= 10
    assert figures["false alarms a year"] <= 0.6


def test_the_engine_is_better_than_either_rule_of_thumb(people: list[Simulated], figures: dict[str, float]) -> None:
    same = score(people, [rule_of_thumb(p, 0.0) for p in people])
    near = score(people, [rule_of_thumb(p, MARGIN) for p in people])
    assert figures["wrongly steady %"] < min(same["wrongly steady %"], near["wrongly steady %"])
    assert figures["steady days called %"] > same["steady days called %"]
    assert figures["found in 14 d %"] > same["found in 14 d %"]
    assert figures["false alarms a year"] < same["false alarms a year"]


def test_the_change_across_a_new_socket_is_covered_about_nine_in_ten() -> None:
    """Two or three sockets a limb, every week of which a fitting lies in the 28 days before: some 3,000 windows.

    The engine must say 90 %. Windows of a limb depend on each other: about 0.9 is luck here, with other seeds too.
    """
    hit = []
    for seed in (1, 78):
        limbs = [p for p in cohort(400, seed, Knobs(sockets=3)) if len(p.truth.fitted) > 1]
        weeks = [[d for d in range(28, p.days + 1, 7) if p.truth.across(d - 28, d)] for p in limbs]
        dates = [
            [p.history.sockets[0].fitted_on + timedelta(days=d) for d in days]
            for p, days in zip(limbs, weeks, strict=True)
        ]
        said = assess_caseload([p.history for p in limbs], dates, chart=False)
        for person, days, row in zip(limbs, weeks, said, strict=True):
            truths = [pct(person.truth, person.truth.between_mm(day - 28, day)) for day in days]
            hit += [
                e.low <= truth <= e.high
                for truth, e in zip(truths, (one.change_28d_pct for one in row), strict=True)
                if e is not None
            ]
    assert len(hit) > 2_500
    assert 88 <= 100 * np.mean(hit) <= 92


def test_a_home_tape_does_no_harm() -> None:
    """Settling limbs measured weekly or daily at home by one hand (3 mm): hardly more often called steady too early."""
    wrongly = {}
    for every in (0, 7, 1):
        limbs = [p for p in cohort(120, 79, Knobs(home_tape_every=every)) if p.truth.trend.startswith("settling")]
        if not every:
            limbs = [replace(p, history=replace(p.history, measurements=())) for p in limbs]
        wrongly[every] = score(limbs, read_days(limbs))["wrongly steady %"]
    assert max(wrongly[7], wrongly[1]) <= wrongly[0] + 4


def test_sockets_and_home_tapes_leave_the_other_draws_as_they_are() -> None:
    plain, knobbed = cohort(6, 9), cohort(6, 9, Knobs(sockets=3, home_tape_every=7))
    for one, other in zip(plain, knobbed, strict=True):
        assert np.array_equal(one.truth.level_mm, other.truth.level_mm)
        assert other.history.limb.amputated_on == one.history.limb.amputated_on
        assert other.history.sockets[0] == one.history.sockets[0]
    assert {len(p.history.sockets) for p in cohort(30, 9, Knobs(sockets=3))} == {1, 2, 3}


def test_evaluate_prints_its_tables_and_hides_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(limbs=30, days=70, seeds=1, quick=True) == 0
    printed = capsys.readouterr().out
    for name in (
        "wrongly steady %",
        "settling day covered %",
        "true need known",
        "trend dialysis",
        "Trade-off",
        "across",
    ):
        assert name in printed
    assert "nan " not in printed.replace("nan known", "")


def test_the_knobs_move_the_truth() -> None:
    plain, shaken = cohort(20, 9), cohort(20, 9, Knobs(wobble=2.0))
    spread = [
        np.std(b.needs[:, 0] - b.truth.level_mm[: len(b.needs)])
        / np.std(a.needs[:, 0] - a.truth.level_mm[: len(a.needs)])
        for a, b in zip(plain, shaken, strict=True)
        if a.truth.trend != "dialysis"
    ]
    assert np.median(spread) == pytest.approx(2.0, abs=0.2)
