"""What many limbs together say about limbs: how common each law and each size of wobble is where they come from.

The bank weighs its members anew for each limb, from weights set for limbs at large. Here those are learnt from a
clinic's own past limbs, without any truth: of limb i member m explains the log with likelihood L[i, m], and the shares
of laws (within their kind, see `trend.prior_weights`) and of wobbles are those under which all logs together are
likeliest, by expectation-maximisation (Dempster, Laird & Rubin 1977: from memory; only the weights move)
    r[i, m] = w[i, m] L[i, m] / sum over m
    share' = (pseudo * shipped + sum over i of r) / (pseudo + limbs)
with the shipped shares as `PSEUDO` limbs that are always there: one limb moves a share by about 1 / (PSEUDO + limbs).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core import settling
from plytide.engine.core.bank import Bank

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

PSEUDO = 30.0  # limbs that the shipped shares count as: judgement
ROUNDS, ENOUGH = 500, 1e-7


@dataclass(frozen=True, slots=True)
class Population:
    """`laws`: the share of each law and time constant within its kind; `wobbles`: of each wobble size and
    autocorrelation; both in the order of the bank."""

    laws: tuple[float, ...]
    wobbles: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Parts:
    """Which law and which wobble each member has, and which kind each law is of: none, even, or one that settles."""

    law: Ints
    wobble: Ints
    kind: Ints
    laws: tuple[tuple[int, float], ...]  # law and tau in days
    wobbles: tuple[tuple[float, float], ...]  # mm and autocorrelation a day


def parts_of(bank: Bank) -> Parts:
    laws = list(dict.fromkeys(zip(bank.law.tolist(), bank.tau.tolist(), strict=True)))
    wobbles = list(dict.fromkeys(zip(bank.wobble.tolist(), bank.rho.tolist(), strict=True)))
    kinds = {settling.SLOW: 0, settling.EVEN: 1}
    return Parts(
        np.array([laws.index(pair) for pair in zip(bank.law.tolist(), bank.tau.tolist(), strict=True)]),
        np.array([wobbles.index(pair) for pair in zip(bank.wobble.tolist(), bank.rho.tolist(), strict=True)]),
        np.array([kinds.get(law, 2) for law, _ in laws]),
        tuple(laws),
        tuple(wobbles),
    )


def population_of(bank: Bank) -> Population:
    """What a bank takes for granted now."""
    parts = parts_of(bank)
    laws, wobbles = _sums(parts, bank.prior)
    return Population(tuple(_within(laws, parts.kind).tolist()), tuple((wobbles / wobbles.sum()).tolist()))


def bank_with(bank: Bank, population: Population) -> Bank:
    """The same members with other weights. Raises ValueError where they do not fit the bank."""
    parts = parts_of(bank)
    laws, wobbles = np.array(population.laws, float), np.array(population.wobbles, float)
    fits = len(laws) == len(parts.laws) and len(wobbles) == len(parts.wobbles)
    if not fits or not all(np.isfinite(each).all() and (each > 0).all() for each in (laws, wobbles)):
        raise ValueError("These shares are not of this bank.")
    prior = _within(laws, parts.kind)[parts.law] * (wobbles / wobbles.sum())[parts.wobble]
    return replace(bank, prior=prior / prior.sum())


def learn(evidence: Array, slow: Array, even: Array, bank: Bank, pseudo: float = PSEUDO) -> Population:
    """From the log likelihood of each limb's log under each member (limbs x members), and the chances given beforehand
    to hardly any trend and to an even one (one a limb each). Limbs that say the very same count once."""
    parts, shipped = parts_of(bank), population_of(bank)
    level = evidence - evidence.max(axis=1, keepdims=True)
    _, first = np.unique(np.round(level, 6), axis=0, return_index=True)
    likelihood = np.exp(level[np.sort(first)])
    chance = np.stack([slow, even, 1.0 - slow - even], axis=1)[np.sort(first)][:, parts.kind[parts.law]]
    laws0, wobbles0 = np.array(shipped.laws), np.array(shipped.wobbles)
    laws, wobbles = laws0, wobbles0
    for _ in range(ROUNDS):
        blame = chance * (laws[parts.law] * wobbles[parts.wobble]) * likelihood
        blame /= blame.sum(axis=1, keepdims=True)
        of_laws, of_wobbles = _sums(parts, blame.sum(axis=0))
        new_laws = _within(pseudo * laws0 + of_laws, parts.kind)
        new_wobbles = (pseudo * wobbles0 + of_wobbles) / (pseudo + len(blame))
        moved = max(np.abs(new_laws - laws).max(), np.abs(new_wobbles - wobbles).max())
        laws, wobbles = new_laws, new_wobbles
        if moved < ENOUGH:
            break
    return Population(tuple(laws.tolist()), tuple(wobbles.tolist()))


def _sums(parts: Parts, of_members: Array) -> tuple[Array, Array]:
    """Over the members of each law, and of each wobble."""
    laws, wobbles = np.zeros(len(parts.laws)), np.zeros(len(parts.wobbles))
    np.add.at(laws, parts.law, of_members)
    np.add.at(wobbles, parts.wobble, of_members)
    return laws, wobbles


def _within(shares: Array, kind: Ints) -> Array:
    """Shares that add up to 1 in each kind."""
    return np.asarray(shares / np.bincount(kind, shares)[kind])
