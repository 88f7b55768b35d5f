"""The shares of laws and wobbles, learnt from a clinic's own past limbs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core.bank import Bank, Beliefs
from plytide.engine.core.population import Population, bank_with, learn
from plytide.engine.core.trend import prior_weights
from plytide.engine.volume.log import Log, together
from plytide.engine.volume.one_pass import BANK, Method, run_pass
from plytide.engine.volume.told import priors
from plytide.model import LimbHistory

Array = NDArray[np.float64]

# A limb says something about limbs once so many days were answered over such a span; with fewer limbs nothing is
# learnt; and no more are gone over than tell the shares well. Judgement, but for the hundred, which was asked for.
LEAST_DAYS, LEAST_SPAN = 30, 60
LEAST_LIMBS, MOST_LIMBS = 100, 1000


@dataclass(frozen=True, slots=True)
class Learnt:
    limbs: int
    population: Population


def tells(history: LimbHistory) -> bool:
    """Whether a log is long enough to learn from."""
    days = {checkin.date for checkin in history.checkins}
    return len(days) >= LEAST_DAYS and (max(days) - min(days)).days >= LEAST_SPAN


def learnt(histories: Sequence[LimbHistory], bank: Bank = BANK) -> Learnt | None:
    """From the limbs that tell something, each up to its last entry; None where they are too few.

    Corrections must have been resolved (`series.resolved`). Always from the weights as shipped, never from what was
    learnt before: what one month got wrong does not stay.
    """
    logs = [Log.of(history) for history in histories if tells(history)][:MOST_LIMBS]
    if len(logs) < LEAST_LIMBS:
        return None
    evidence, chance = evidence_of(logs, bank)
    return Learnt(len(logs), learn(evidence, *chance, bank))


def evidence_of(logs: Sequence[Log], bank: Bank = BANK) -> tuple[Array, tuple[Array, Array]]:
    """Log likelihood of each log under each member (limbs x members, up to a number a limb), and the chances given
    beforehand to hardly any trend and to an even one."""
    evidence = np.zeros((len(logs), bank.size))
    slow, even = np.zeros(len(logs)), np.zeros(len(logs))
    for some in together(logs):
        weight = np.zeros((len(some), bank.size))

        def look(beliefs: Beliefs, weight: Array = weight) -> None:
            weight[beliefs.limb] = beliefs.weight

        mine = [logs[i] for i in some]
        one = run_pass(mine, [[int(log.written[-1])] for log in mine], Method(bank), look=look)
        limbs = priors(mine, one.origin)
        evidence[some] = np.log(np.maximum(weight, 1e-17)) - np.log(prior_weights(bank, limbs))
        slow[some], even[some] = limbs.slow, limbs.even
    return evidence, (slow, even)


@lru_cache(maxsize=64)
def bank_of(population: Population | None) -> Bank:
    """The bank as shipped, or with learnt weights: the same object for the same shares, as `Shelf` needs it. What does
    not fit this engine's bank, as kept by another version, is passed over."""
    if population is None:
        return BANK
    try:
        return bank_with(BANK, population)
    except ValueError:
        return BANK
