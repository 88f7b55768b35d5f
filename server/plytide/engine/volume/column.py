"""One limb’s column of a pass: what is believed of it day by day, in the words that are told."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core.bank import Alarm, Track
from plytide.engine.volume.constants import BAND_DAYS, Constants
from plytide.engine.volume.log import Log
from plytide.engine.volume.numbers import Numbers
from plytide.engine.volume.one_pass import Pass
from plytide.engine.volume.percent import pct
from plytide.model import Estimate

Array = NDArray[np.float64]
Band = tuple[tuple[date, Estimate], ...]


@dataclass(frozen=True, slots=True)
class Column:
    """Days `t` are counted from the limb's first of the pass, `origin`."""

    log: Log
    at: int  # which limb of the pass
    one: Pass
    constants: Constants

    @property
    def origin(self) -> int:
        return int(self.one.origin[self.at])

    @property
    def track(self) -> Track:
        return self.one.track

    def date(self, t: int) -> date:
        return date.fromordinal(self.origin + t)

    def numbers(self, t: int) -> Numbers | None:
        return self.one.numbers.get((self.at, t))

    def enough(self, t: int) -> bool:
        return t >= 0 and bool(self.one.enough[t, self.at])

    def since(self, t: int) -> tuple[int, int, int]:
        """The days since which it is steady, settling, and known well enough but not steady; -1 where it is not so."""
        if t < 0:
            return -1, -1, -1
        here = t, self.at
        one = self.one
        return int(one.steady_from[here]), int(one.settling_from[here]), int(one.unsettled_from[here])

    def alarms(self, t: int) -> list[Alarm]:
        """Those found by that day."""
        return [alarm for alarm in self.track.alarms if alarm.limb == self.at and alarm.day <= t]

    def level_change(self, t: int) -> Array:
        """Change of the limb over 28 days from the level believed at either end, with its 90 % interval, in mm.

        For a sudden change in between, which no law knows of. What is unknown at both ends is half shared: judgement.
        """
        level, level_sd = self.track.limb[:, self.at], self.track.limb_sd[:, self.at]
        now, then = float(level_sd[t]), float(level_sd[t - 28])
        half = 1.6448536 * math.sqrt(max(now * now + then * then - now * then, 1e-6))
        gone = float(level[t] - level[t - 28])
        return np.array([gone, gone - half, gone + half])

    def pct_between(self, before: int | None, day: int) -> float | None:
        """The change between two days (ordinals) as estimated, in percent; None for a day before the first."""
        if before is None or before < self.origin:
            return None
        level = self.track.limb[:, self.at]
        then, now = (pct(float(level[each - self.origin]), self.log.radius) for each in (before, day))
        return now - then

    def bands(self, t: int) -> tuple[Band, Band]:
        """Up to day `t`: of the socket worn, and of the limb on its one scale."""
        track, i = self.track, self.at
        band = limb_band = self._band(track.change[:, i], track.change_sd[:, i], t)
        if not np.array_equal(track.change[: t + 1, i], track.limb[: t + 1, i]):
            limb_band = self._band(track.limb[:, i], track.limb_sd[:, i], t)
        return band, limb_band

    def _band(self, level: Array, level_sd: Array, t: int) -> Band:
        first = max(0, t - BAND_DAYS)
        mm = level[first : t + 1]
        sd = 1.6448536 * level_sd[first : t + 1]
        shares = (1.0 - np.minimum(np.stack([mm, mm + sd, mm - sd]) / self.log.radius, 0.95)) ** 2 - 1.0
        return tuple((self.date(first + k), Estimate(*three)) for k, three in enumerate((shares * 100.0).T.tolist()))
