"""Day by day over whole logs, for those who score the engine: much cheaper than a view a day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core import good_fit
from plytide.engine.core.bank import Alarm, Bank, Beliefs, Tuning
from plytide.engine.core.good_fit import Aim
from plytide.engine.thresholds import DEFAULTS
from plytide.engine.volume.constants import AIM, CONSTANTS, Constants
from plytide.engine.volume.log import Log, together
from plytide.engine.volume.numbers import by_law
from plytide.engine.volume.one_pass import BANK, Hear, Method, run_pass
from plytide.model import LimbHistory

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class DailyVolume:
    """Day by day from a limb's first: steady or not; and its alarms, whenever they were found."""

    steady: NDArray[np.bool_]
    alarms: tuple[Alarm, ...]


def volume_by_day(
    histories: Sequence[LimbHistory],
    last: date,
    constants: Constants = CONSTANTS,
    hear: Hear | None = None,
    tuning: Tuning | None = None,
    bank: Bank = BANK,
) -> list[DailyVolume]:
    """The steady claim and the alarms alone, up to `last`.

    `hear` may replace what the engine hears, `bank` what it thinks possible, to score it with truth it can't see.
    """
    method = Method(bank, tuning or Tuning(margin=DEFAULTS.steady_margin_mm), constants)
    logs = [Log.of(history) for history in histories]
    out: dict[int, DailyVolume] = {}
    for some in together(logs):
        one = run_pass([logs[i] for i in some], [[last.toordinal()]] * len(some), method, hear=hear)
        for k, i in enumerate(some):
            alarms = tuple(a for a in one.track.alarms if a.limb == k)
            out[i] = DailyVolume(one.steady_from[:, k] >= 0, alarms)
    return [out[i] for i in range(len(logs))]


def good_fit_by_day(
    histories: Sequence[LimbHistory], last: date, aim: Aim = AIM, bank: Bank = BANK, constants: Constants = CONSTANTS
) -> list[Array]:
    """Day by day from each limb's first up to `last`: days x 4, NaN where nothing is known.

    Days until the best cast, days of good fit if cast today, days until the first and the second of the best two casts.
    """
    method = Method(bank, constants=constants)
    logs = [Log.of(history) for history in histories]
    out: dict[int, Array] = {}
    for some in together(logs):
        first = [logs[i].series.first_day or last.toordinal() for i in some]
        dates = [range(day + constants.enough_span, last.toordinal() + 1) for day in first]
        found = [np.full((last.toordinal() + 1 - day, 4), np.nan) for day in first]

        def look(s: Beliefs, found: list[Array] = found) -> None:
            paths = good_fit.paths_of(by_law(s, bank))
            best = good_fit.best_cast(paths, aim)
            rows = np.stack([best.day[:, 0], best.now[:, 0], *good_fit.best_two_casts(paths, aim)], axis=1)
            for limb, day, row in zip(s.limb.tolist(), s.day.tolist(), rows, strict=True):
                found[limb][day] = row

        one = run_pass([logs[i] for i in some], dates, method, look=look)
        for k, i in enumerate(some):
            found[k][~one.enough[: len(found[k]), k]] = np.nan
            out[i] = found[k]
    return [out[i] for i in range(len(logs))]
