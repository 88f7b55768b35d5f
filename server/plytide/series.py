"""Check-ins of one limb to observations. A day nobody wrote about is a gap, never zero.

In: a `LimbHistory`. Out: `Series`, plain arrays in time order, at most three observations a day
(one each for putting on, during the day and end of day). Knows nothing of trends.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from plytide.core.thickness import stack_thickness
from plytide.model import CheckIn, LimbHistory, Sock, Socket

PHASE = {"putting_on": 0, "during": 1, "end_of_day": 2}
TAPE_NEAR_DAYS = 14  # a measurement this near to the fitting is its baseline: judgement
# The thinnest sock to be had of a make, in mm under load: a 1-ply (Sanders 2012).
THIN = {"single": 0.7, "blend": 0.4, "unknown": 0.55}
FIT = {"tight": -1, "good": 0, "loose": 1, None: 2}


def resolved(checkins: Iterable[CheckIn]) -> list[CheckIn]:
    """What stands after corrections: of an entry and all that replace it, the one that came last.

    Last is the highest `seq`, else the later in the given order. A withdrawn one removes the entry.
    A correction of an entry that is not here stands by itself.
    """
    standing = [c for c in _last_of_lines(checkins)[0].values() if not c.withdrawn]
    return sorted(standing, key=_moment)


def replaced(checkins: Iterable[CheckIn]) -> dict[str, str]:
    """What took the place of each entry that is not the last of its line: id → id of the one that came last.

    Of two corrections of one entry the earlier is replaced by the later, though it names only the entry.
    """
    last, root_of = _last_of_lines(checkins)
    return {id_: last[root].id for id_, root in root_of.items() if last[root].id != id_}


def _last_of_lines(checkins: Iterable[CheckIn]) -> tuple[dict[str, CheckIn], dict[str, str]]:
    """(root → the entry of its line that came last, id → root)."""
    entries = list(checkins)
    order = {c.id: (c.seq, i) for i, c in enumerate(entries)}
    by_id = {c.id: c for c in entries}

    def root(c: CheckIn) -> str:
        seen = {c.id}
        while c.replaces is not None and c.replaces in by_id and c.replaces not in seen:
            seen.add(c.replaces)
            c = by_id[c.replaces]
        return c.replaces if c.replaces is not None and c.replaces not in seen else c.id

    last: dict[str, CheckIn] = {}
    root_of: dict[str, str] = {}
    for c in by_id.values():
        key = root_of[c.id] = root(c)
        if key not in last or order[c.id] > order[last[key].id]:
            last[key] = c
    return last, root_of


def _moment(c: CheckIn) -> tuple[date, int, str, int, str]:
    return c.date, PHASE.get(c.moment, 1), c.time or "", c.seq, c.id


@dataclass(frozen=True, slots=True)
class Series:
    """Observations of one limb in time order; `n` of them. Thickness in mm, days as ordinals.

    `fill` is socks plus pads. `up` and `down` are the gaps to the next thicker and thinner choice this
    wearer had at that time. `fit` is -1 tight, 0 good, 1 loose, 2 not said. `moved` is the sign of the
    change of stack against the observation before, 0 if the same; `echo` marks an answer the same in
    every word as the one before; `prefilled` one the phone filled in.
    """

    limb_id: str
    day: NDArray[np.int64]
    phase: NDArray[np.int64]
    fill: NDArray[np.float64]
    fill_u: NDArray[np.float64]
    up: NDArray[np.float64]
    down: NDArray[np.float64]
    fit: NDArray[np.int64]
    moved: NDArray[np.int64]
    echo: NDArray[np.bool_]
    prefilled: NDArray[np.bool_]
    at_floor: NDArray[np.bool_]
    ids: tuple[str, ...]
    sockets: tuple[Socket, ...]
    baseline: tuple[tuple[int, float, float], ...]  # socket: day fitted, fill at fitting, its uncertainty
    pads: tuple[tuple[int, float], ...]  # day, thickness, of the pads that shift the need
    tapes: tuple[tuple[int, float, int], ...]  # day, change of radius in mm since the socket was fitted, levels
    unknown_make: NDArray[np.bool_]  # whether a sock of unknown make was worn up to then

    @property
    def first_day(self) -> int | None:
        days = [b[0] for b in self.baseline[:1]] + [int(d) for d in self.day[:1]]
        return min(days) if days else None


def series_of(history: LimbHistory) -> Series:
    """The observations of a limb, from its standing check-ins."""
    sockets = tuple(sorted(history.sockets, key=lambda s: (s.fitted_on, s.id)))
    kept: dict[tuple[int, int], CheckIn] = {}
    for c in resolved(history.checkins):
        kept[c.date.toordinal(), PHASE.get(c.moment, 1)] = c  # the last word of that part of the day
    pads = [(p.on.toordinal(), p.thickness_mm, p.socket_id) for p in sorted(history.pads, key=lambda p: p.on)]
    keys = sorted(kept)
    n = len(keys)
    fill, fill_u, up, down = (np.zeros(n) for _ in range(4))
    fit, moved = np.zeros(n, np.int64), np.zeros(n, np.int64)
    echo, prefilled, floor, unknown = (np.zeros(n, np.bool_) for _ in range(4))
    seen: list[float] = []
    before: CheckIn | None = None
    before_mm = 0.0
    cache: dict[tuple[Sock, ...], tuple[float, float]] = {}
    for i, key in enumerate(keys):
        c = kept[key]
        if c.stack not in cache:
            cache[c.stack] = stack_thickness(c.stack)
        socks, u = cache[c.stack]
        worn_pads = sum(mm for on, mm, sid in pads if on <= key[0] and sid == _socket_id(sockets, key[0]))
        fill[i], fill_u[i] = socks + worn_pads, u
        thin = THIN[_make(c.stack)]
        thicker = [s - socks for s in seen if s - socks > 0.15]
        thinner = [socks - s for s in seen if socks - s > 0.15]
        up[i] = min([thin, *thicker])
        floor[i] = socks < 0.15
        down[i] = min([thin, *thinner, max(socks, 0.2)])
        if not any(abs(s - socks) < 0.05 for s in seen):
            seen.append(socks)
        unknown[i] = any(s.make == "unknown" for s in c.stack if s.ply)
        fit[i] = FIT[c.fit]
        prefilled[i] = c.prefilled
        if before is not None:
            moved[i] = 0 if abs(socks - before_mm) < 0.05 else (1 if socks > before_mm else -1)
            echo[i] = c.stack == before.stack and c.fit == before.fit and c.comfort == before.comfort
        before, before_mm = c, socks
    baseline = []
    for s in sockets:
        mm, u = stack_thickness(s.stack_at_fitting)
        baseline.append((s.fitted_on.toordinal(), mm, u))
    return Series(
        limb_id=history.limb.id,
        day=np.array([k[0] for k in keys], np.int64),
        phase=np.array([k[1] for k in keys], np.int64),
        fill=fill,
        fill_u=fill_u,
        up=up,
        down=down,
        fit=fit,
        moved=moved,
        echo=echo,
        prefilled=prefilled,
        at_floor=floor,
        ids=tuple(kept[k].id for k in keys),
        sockets=sockets,
        baseline=tuple(baseline),
        pads=tuple((on, mm) for on, mm, _ in pads),
        tapes=_tapes(history, sockets),
        unknown_make=np.logical_or.accumulate(unknown),
    )


def _make(stack: Sequence[Sock]) -> str:
    makes = {s.make for s in stack if s.ply}
    return makes.pop() if len(makes) == 1 else "unknown" if makes else "single"


def _tapes(history: LimbHistory, sockets: Sequence[Socket]) -> tuple[tuple[int, float, int], ...]:
    """Mean change of radius at the levels measured both now and about when the socket was fitted."""
    found: dict[int, tuple[int, float, int]] = {}  # by day: the last of a day stands
    for now in sorted(history.measurements, key=lambda m: m.on):
        worn = [s for s in sockets if s.fitted_on <= now.on]
        if not worn:
            continue
        near = [m for m in history.measurements if abs((m.on - worn[-1].fitted_on).days) <= TAPE_NEAR_DAYS]
        first = min(near, key=lambda m: (abs((m.on - worn[-1].fitted_on).days), m.on, m.id), default=None)
        if first is None or first.on >= now.on:
            continue
        then = {level.from_end_mm: level.circumference_mm for level in first.levels}
        changes = [
            (then[level.from_end_mm] - level.circumference_mm) / (2 * math.pi)
            for level in now.levels
            if level.from_end_mm in then
        ]
        if changes:
            day = now.on.toordinal()
            found[day] = (day, sum(changes) / len(changes), len(changes))
    return tuple(found.values())


def _socket_id(sockets: Sequence[Socket], day: int) -> str | None:
    worn = [s for s in sockets if s.fitted_on.toordinal() <= day]
    return worn[-1].id if worn else None
