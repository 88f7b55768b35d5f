"""Learnt from simulated limbs whose truth nobody told: sooner right where a clinic differs, no harm elsewhere."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from plytide.engine.volume.learning import BANK, LEAST_LIMBS, bank_of, learnt, tells
from seed_demo.cohort import SHIFTED, Knobs, cohort
from seed_demo.evaluate import read_days, score


def figures(knobs: Knobs) -> tuple[dict[str, float], dict[str, float]]:
    """As shipped, and learnt from other limbs of the same kind."""
    past, people = cohort(LEAST_LIMBS + 20, 900, knobs), cohort(80, 201, knobs)
    found = learnt([person.history for person in past])
    assert found is not None
    assert found.limbs >= LEAST_LIMBS
    return score(people, read_days(people)), score(people, read_days(people, bank=bank_of(found.population)))


def test_where_all_settle_in_weeks_it_is_said_a_week_sooner_and_no_oftener_wrong():
    shipped, own = figures(SHIFTED["settles in weeks"])
    assert own["delay, settling d"] <= shipped["delay, settling d"] - 7
    assert own["steady days called %"] >= shipped["steady days called %"] + 5
    assert own["wrongly steady %"] <= shipped["wrongly steady %"] + 1


def test_where_a_clinic_is_like_any_other_no_harm_is_done():
    shipped, own = figures(SHIFTED["as at large"])
    assert own["wrongly steady %"] <= shipped["wrongly steady %"] + 2  # one limb more of those that settle
    assert own["delay, settling d"] <= shipped["delay, settling d"] + 2
    assert own["found in 14 d %"] >= shipped["found in 14 d %"] - 5
    assert own["false alarms a year"] <= shipped["false alarms a year"] + 0.4


def test_too_few_limbs_and_short_logs_teach_nothing():
    people = [person.history for person in cohort(LEAST_LIMBS, 7, Knobs(days=80))]
    enough = [history for history in people if tells(history)]
    assert len(enough) < LEAST_LIMBS  # some of them log too seldom
    assert learnt(people) is None
    first = min(checkin.date for checkin in enough[0].checkins)
    for days, least in ((59, False), (200, True)):
        short = [one for one in enough[0].checkins if one.date < first + timedelta(days=days)]
        assert tells(replace(enough[0], checkins=tuple(short))) is least


@pytest.mark.parametrize("population", [None, "another bank's"])
def test_without_shares_of_its_own_the_bank_is_the_shipped_one(population: str | None):
    if population is None:
        assert bank_of(None) is BANK
    else:
        found = learnt([person.history for person in cohort(LEAST_LIMBS + 20, 900, Knobs())])
        assert found is not None
        assert bank_of(found.population) is bank_of(found.population) is not BANK
        assert bank_of(replace(found.population, laws=(1.0,))) is BANK
