"""One limb’s log as a pass reads it, and which limbs are gone over together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plytide.engine.series import Series, series_of
from plytide.engine.volume.percent import radius_mm
from plytide.model import LimbHistory

CHUNK = 128  # limbs per pass: keeps the bank in the processor's cache


@dataclass(frozen=True, slots=True)
class Log:
    """A limb's history and the series made from it. Corrections must have been resolved (`series.resolved`)."""

    history: LimbHistory
    series: Series
    written: NDArray[np.int64]  # the day of each check-in, rising

    @staticmethod
    def of(history: LimbHistory) -> Log:
        written = np.sort(np.array([checkin.date.toordinal() for checkin in history.checkins], np.int64))
        return Log(history, series_of(history), written)

    @property
    def radius(self) -> float:
        return radius_mm(self.history)

    @property
    def on_dialysis(self) -> bool:
        return "dialysis" in self.history.limb.tags


def together(logs: Sequence[Log], length: Callable[[int], int] = lambda _: 0) -> Iterator[list[int]]:
    """The limbs of each pass: such as need the same states, since what one has and another has not costs its group.

    Those of like `length` together, so that short ones do not wait for long ones.
    """
    groups: dict[tuple[bool, bool, bool], list[int]] = {}
    for i, log in enumerate(logs):
        of = log.on_dialysis, len(log.history.sockets) > 1, bool(log.history.measurements)
        groups.setdefault(of, []).append(i)
    for group in groups.values():
        group.sort(key=length)
        for at in range(0, len(group), CHUNK):
            yield group[at : at + CHUNK]
