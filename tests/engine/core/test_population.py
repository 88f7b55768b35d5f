"""What is learnt from many limbs: a population that is known is found again, and nobody can push it about."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize

from plytide.engine.core.bank import make_bank
from plytide.engine.core.population import PSEUDO, Population, bank_with, learn, parts_of, population_of

BANK = make_bank()
PARTS = parts_of(BANK)
SETTLES = PARTS.kind == 2


def logs(rng: np.random.Generator, truth: Population, limbs: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Evidence of limbs that settle, drawn from a population: each member has a reading x of its own, N(0, 1) but
    N(c, 1) for the one the limb is of, whose log likelihood ratio is c x - c²/2."""
    weight = np.where(SETTLES[PARTS.law], np.array(truth.laws)[PARTS.law] * np.array(truth.wobbles)[PARTS.wobble], 0.0)
    member = rng.choice(BANK.size, limbs, p=weight / weight.sum())
    c = 3.0
    evidence = c * rng.normal(0.0, 1.0, (limbs, BANK.size))
    evidence[np.arange(limbs), member] += c * c
    return evidence, member


def chances(limbs: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return np.full(limbs, 0.02), np.full(limbs, 0.02)


def shifted() -> Population:
    laws = np.where(SETTLES, 0.05, 1.0)
    laws[[k for k, (_, tau) in enumerate(PARTS.laws) if tau == 12.0]] = 0.75
    wobbles = np.full(len(PARTS.wobbles), 0.04)
    wobbles[[k for k, (mm, _) in enumerate(PARTS.wobbles) if mm == 0.4]] = 0.38
    return Population(tuple(laws.tolist()), tuple((wobbles / wobbles.sum()).tolist()))


def far(one: Population, other: Population) -> float:
    pairs = ((one.laws, other.laws), (one.wobbles, other.wobbles))
    return max(float(np.abs(np.array(a) - np.array(b)).max()) for a, b in pairs)


def test_a_shifted_population_is_found_again():
    truth = shifted()
    evidence, _ = logs(np.random.default_rng(1), truth, 600)
    found = learn(evidence, *chances(600), BANK)
    assert far(found, truth) < 0.06
    assert far(found, population_of(BANK)) > 0.3


def test_of_limbs_as_they_are_at_large_hardly_anything_is_learnt():
    shipped = population_of(BANK)
    evidence, _ = logs(np.random.default_rng(2), shipped, 600)
    assert far(learn(evidence, *chances(600), BANK), shipped) < 0.05


def test_the_shares_are_the_likeliest_ones():
    """Against scipy's own search for the maximum of the same penalised likelihood."""
    evidence, _ = logs(np.random.default_rng(3), shifted(), 120)
    slow, even = chances(120)
    found = learn(evidence, slow, even, BANK)
    chance = np.stack([slow, even, 1 - slow - even], axis=1)[:, PARTS.kind[PARTS.law]]
    shipped, settling = population_of(BANK), np.flatnonzero(SETTLES)

    def loss(x: NDArray[np.float64]) -> float:
        laws = np.ones(len(PARTS.laws))
        laws[settling] = np.exp(x[: len(settling)]) / np.exp(x[: len(settling)]).sum()
        wobbles = np.exp(x[len(settling) :]) / np.exp(x[len(settling) :]).sum()
        likelihood = (chance * laws[PARTS.law] * wobbles[PARTS.wobble] * np.exp(evidence)).sum(axis=1)
        prior = PSEUDO * (np.array(shipped.laws)[settling] @ np.log(laws[settling]))
        prior += PSEUDO * (np.array(shipped.wobbles) @ np.log(wobbles))
        return -float(np.log(likelihood).sum() + prior)

    best = minimize(loss, np.zeros(len(settling) + len(PARTS.wobbles)), method="BFGS", options={"gtol": 1e-6})
    laws = np.exp(best.x[: len(settling)]) / np.exp(best.x[: len(settling)]).sum()
    wobbles = np.exp(best.x[len(settling) :]) / np.exp(best.x[len(settling) :]).sum()
    assert np.array(found.laws)[settling] == pytest.approx(laws, abs=2e-3)
    assert np.array(found.wobbles) == pytest.approx(wobbles, abs=2e-3)


def test_one_limb_however_sure_moves_no_share_by_more_than_its_part():
    rng = np.random.default_rng(4)
    evidence, _ = logs(rng, population_of(BANK), 100)
    before = learn(evidence, *chances(100), BANK)
    for member in range(0, BANK.size, 7):
        loud = evidence.copy()
        loud[0] = 0.0
        loud[0, member] = 500.0
        assert far(learn(loud, *chances(100), BANK), before) < 2.5 / (PSEUDO + 100)


def test_a_flood_of_copies_counts_once():
    evidence, _ = logs(np.random.default_rng(5), population_of(BANK), 100)
    flooded = np.concatenate([evidence, np.repeat(evidence[:1], 5000, axis=0)])
    assert learn(flooded, *chances(5100), BANK) == learn(evidence, *chances(100), BANK)


def test_what_is_of_another_bank_is_refused():
    for wrong in (
        Population((1.0,), population_of(BANK).wobbles),
        Population(population_of(BANK).laws, (float("nan"),) * len(PARTS.wobbles)),
        Population(population_of(BANK).laws, (0.0,) * len(PARTS.wobbles)),
    ):
        with pytest.raises(ValueError, match="not of this bank"):
            bank_with(BANK, wrong)
    assert np.allclose(bank_with(BANK, population_of(BANK)).prior, BANK.prior)
