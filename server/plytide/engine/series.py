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

from plytide.engine.core.limb_volume import circumference_at
from plytide.engine.core.thickness import stack_thickness
from plytide.model import CheckIn, LimbHistory, Sock, Socket

PHASE = {"putting_on": 0, "during": 1, "end_of_day": 2}
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
class Tape:
    """A tape measurement against the ones before it, whatever sockets were worn meanwhile.

    `mm`: how much less the limb's radius is than at the first measurement, mean over the levels known from before.
    `before`: the day of the measurement before, None for the first and where no level was measured before, so that the
    scale begins anew. `same_hand`: whether the same named person took that one.
    """

    id: str
    day: int
    mm: float
    before: int | None
    same_hand: bool
    circumference_mm: float  # mean over the levels compared


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
    # Socket: day fitted, fill at fitting, its uncertainty; infinite where it was not entered, and first worn then.
    baseline: tuple[tuple[int, float, float], ...]
    pads: tuple[tuple[int, float], ...]  # day, thickness, of the pads that shift the need
    tapes: tuple[Tape, ...]  # at most one a day
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
    socks = u = thin = up_now = down_now = 0.0
    known = -1  # how many thicknesses had been seen when the gaps were last looked up
    for i, key in enumerate(keys):
        c = kept[key]
        same = before is not None and c.stack == before.stack
        if not same:
            if c.stack not in cache:
                cache[c.stack] = stack_thickness(c.stack)
            socks, u = cache[c.stack]
            thin = THIN[_make(c.stack)]
            unknown[i] = any(s.make == "unknown" for s in c.stack if s.ply)
        if not same or known != len(seen):
            known = len(seen)
            up_now = min([thin, *(s - socks for s in seen if s - socks > 0.15)])
            down_now = min([thin, *(socks - s for s in seen if socks - s > 0.15), max(socks, 0.2)])
            if not any(abs(s - socks) < 0.05 for s in seen):
                seen.append(socks)
        fill[i], fill_u[i], up[i], down[i] = socks, u, up_now, down_now
        if pads:
            here = _socket_id(sockets, key[0])
            fill[i] += sum(mm for on, mm, sid in pads if on <= key[0] and sid == here)
        floor[i] = socks < 0.15
        fit[i] = FIT[c.fit]
        prefilled[i] = c.prefilled
        if before is not None:
            moved[i] = 0 if abs(socks - before_mm) < 0.05 else (1 if socks > before_mm else -1)
            echo[i] = same and c.fit == before.fit and c.comfort == before.comfort
        before, before_mm = c, socks
    baseline = []
    for s in sockets:
        if s.stack_at_fitting is not None:
            mm, u = stack_thickness(s.stack_at_fitting)
            baseline.append((s.fitted_on.toordinal(), mm, u))
        elif (first := _first_in(keys, s, sockets)) is not None:
            # Not entered: change is counted from what was first worn in it, and as loosely as for no sock.
            baseline.append((keys[first][0], float(fill[first]), math.inf))
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
        tapes=_tapes(history),
        unknown_make=np.logical_or.accumulate(unknown),
    )


def _first_in(keys: Sequence[tuple[int, int]], socket: Socket, sockets: Sequence[Socket]) -> int | None:
    """The first observation in a socket."""
    return next(
        (
            n
            for n, (day, _) in enumerate(keys)
            if day >= socket.fitted_on.toordinal() and _socket_id(sockets, day) == socket.id
        ),
        None,
    )


def _make(stack: Sequence[Sock]) -> str:
    makes = {s.make for s in stack if s.ply}
    return makes.pop() if len(makes) == 1 else "unknown" if makes else "single"


def _tapes(history: LimbHistory) -> tuple[Tape, ...]:
    """Each day's last measurement on the scale of the first: every level goes on from where it was last measured."""
    last_of_day = {m.on: m for m in sorted(history.measurements, key=lambda m: m.on) if m.levels}
    known: list[tuple[float, float, float]] = []  # height, circumference, and the mm at which it was measured
    found: list[Tape] = []
    hand: str | None = None
    for on, now in last_of_day.items():
        levels = [(level.from_end_mm, level.circumference_mm) for level in now.levels]
        on_scale = [
            (mm + (then - girth) / (2 * math.pi), girth)
            for height, then, mm in known
            if (girth := circumference_at(levels, height)) is not None
        ]
        compared = on_scale or [(0.0, girth) for _, girth in levels]
        mm, mean = (sum(column) / len(compared) for column in zip(*compared, strict=True))
        by = (now.measured_by or "").strip().casefold() or None
        found.append(
            Tape(now.id, on.toordinal(), mm, found[-1].day if on_scale else None, by is not None and by == hand, mean)
        )
        hand = by
        known = [one for one in known if circumference_at(levels, one[0]) is None]
        known += [(height, girth, mm) for height, girth in levels]
    return tuple(found)


def _socket_id(sockets: Sequence[Socket], day: int) -> str | None:
    worn = [s for s in sockets if s.fitted_on.toordinal() <= day]
    return worn[-1].id if worn else None
