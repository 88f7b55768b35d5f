"""Filter states kept from one pass to the next, so that a new day costs one step and not the whole log.

What a limb's last pass was given is kept beside some of its states. The next pass of that limb goes on after the latest
state that lies before the first thing that differs: a correction, a late entry or a new socket is thereby replayed from
where it belongs, and what comes out is the same as without anything kept. Nothing here is needed for an answer: a shelf
that forgets a limb only makes its next pass a whole one.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, fields, replace
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core.bank import (
    TAPE,
    Alarm,
    Answers,
    Bank,
    Beliefs,
    Heard,
    Layout,
    Limbs,
    Starts,
    State,
    Told,
    Track,
    Tuning,
)
from plytide.engine.core.trend import Carry, Look, run_bank

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

# Days before the last of which a state is kept: for more of today, for the next day, for a late entry.
SAVED = (0, 1, 14)
DAILY = tuple(each.name for each in fields(Track) if each.name not in ("alarms", "tapes"))


@dataclass(frozen=True, slots=True)
class Given:
    """What the pass of one limb is made from, in order of days. `answers`, `starts` and `pads` have the day first."""

    limb: tuple[float, ...]
    answers: Array
    starts: Array
    pads: Array

    def same_until(self, other: Given) -> float:
        """The first day on which the two differ; inf: on none."""
        if self.limb != other.limb:
            return -np.inf
        pairs = ((self.answers, other.answers), (self.starts, other.starts), (self.pads, other.pads))
        return min(_first_difference(one, two) for one, two in pairs)


def _first_difference(one: Array, two: Array) -> float:
    both = min(len(one), len(two))
    differ = np.flatnonzero((one[:both] != two[:both]).any(axis=1))
    at = int(differ[0]) if len(differ) else both
    return min((float(rows[at, 0]) for rows in (one, two) if at < len(rows)), default=np.inf)


@dataclass(frozen=True, slots=True)
class Kept:
    """Of one limb's last pass: what it was given, its states by day, and its days (`DAILY` x days)."""

    mark: Hashable
    given: Given
    layout: Layout
    states: tuple[tuple[int, State], ...]
    daily: Array
    alarms: tuple[Alarm, ...]
    tapes: tuple[Heard, ...]


class Shelf:
    """The last passes of so many limbs, those longest not asked for forgotten first. May be used by several threads."""

    def __init__(self, most: int) -> None:
        self.most = most
        self._kept: OrderedDict[Hashable, Kept] = OrderedDict()
        self._lock = Lock()

    def __len__(self) -> int:
        return len(self._kept)

    def get(self, key: Hashable) -> Kept | None:
        with self._lock:
            found = self._kept.get(key)
            if found is not None:
                self._kept.move_to_end(key)
            return found

    def put(self, key: Hashable, kept: Kept) -> None:
        with self._lock:
            self._kept[key] = kept
            self._kept.move_to_end(key)
            while len(self._kept) > self.most:
                self._kept.popitem(last=False)


@dataclass(frozen=True, slots=True)
class Keeping:
    """Where passes are kept, and under which key for each limb. `of` is what else an answer depends on."""

    shelf: Shelf
    keys: Sequence[Hashable]
    of: Hashable


def run_kept(
    keeping: Keeping, bank: Bank, told: Told, last: Ints, tuning: Tuning, give: Callable[[Beliefs], None]
) -> Track:
    """As `trend.run_bank` up to each limb's own `last` day, whose beliefs are given to `give`."""
    shelf, keys = keeping.shelf, keeping.keys
    mark = (tuning, keeping.of, id(bank))  # what is the same for every limb
    given = [_given(told, i) for i in range(len(keys))]
    before = [_usable(shelf.get(key), mark, one, int(end)) for key, one, end in zip(keys, given, last, strict=True)]
    together: dict[Layout | None, list[int]] = {}
    for i, found in enumerate(before):
        together.setdefault(found[0].layout if found else None, []).append(i)
    whole = _Whole(np.zeros((len(DAILY), int(last.max(initial=0)) + 1, len(keys))), {i: {} for i in range(len(keys))})
    for which in together.values():
        # The day from which each goes on; 0 where nothing is kept.
        begin = np.array([found[1] + 1 if (found := before[i]) else 0 for i in which], np.int64)
        part = _Part(which, begin, last[np.array(which, np.int64)] - begin)
        resumed = [whole.go_on_after(i, found) for i in which if (found := before[i])]
        _go_on(part, bank, _rest(part, given), tuning, give, resumed, whole)
    for i, key in enumerate(keys):
        one, found, end = whole.states[i], before[i], int(last[i])
        old = {day: state for day, state in found[0].states if day <= found[1]} if found else {}
        nearest = {max((day for day in (*one, *old) if day <= end - ago), default=None) for ago in SAVED}
        saved = tuple(sorted((day, one[day] if day in one else old[day]) for day in nearest if day is not None))
        alarms = tuple(alarm for alarm in whole.alarms if alarm.limb == i)
        tapes = tuple(heard for heard in whole.tapes if heard.limb == i)
        layout = saved[-1][1].layout
        shelf.put(key, Kept(mark, given[i], layout, saved, whole.daily[:, : end + 1, i].copy(), alarms, tapes))
    daily = dict(zip(DAILY, whole.daily, strict=True))
    return Track(**daily, alarms=tuple(whole.alarms), tapes=tuple(whole.tapes))


@dataclass(slots=True)
class _Whole:
    """What is known of all limbs once their parts are done: `DAILY` x days x limbs, and the states by limb and day."""

    daily: Array
    states: dict[int, dict[int, State]]
    alarms: list[Alarm] = field(default_factory=list)
    tapes: list[Heard] = field(default_factory=list)

    def go_on_after(self, i: int, found: tuple[Kept, int]) -> State:
        """Take over what was kept of limb `i` up to a day; the state at its end."""
        kept, day = found
        self.daily[:, : day + 1, i] = kept.daily[:, : day + 1]
        self.alarms += [replace(alarm, limb=i) for alarm in kept.alarms if alarm.day <= day]
        self.tapes += [replace(heard, limb=i) for heard in kept.tapes if heard.day <= day]
        return dict(kept.states)[day]


@dataclass(frozen=True, slots=True)
class _Part:
    """Limbs that go on from states of one layout: `which`, each from its day `begin`, for `ends` more days and one."""

    which: Sequence[int]
    begin: Ints
    ends: Ints


def _usable(kept: Kept | None, mark: Hashable, given: Given, last: int) -> tuple[Kept, int] | None:
    """The pass to go on from, and after which day; None where all must be done again."""
    if kept is None or kept.mark != mark:
        return None
    differs = given.same_until(kept.given)
    day = max((each for each, _ in kept.states if each < differs and each < last), default=None)
    return None if day is None or not _has_room(kept.layout, given) else (kept, day)


def _has_room(layout: Layout, given: Given) -> bool:
    """Whether the states kept are all this limb now has a use for."""
    earlier, tape = bool(np.any(given.starts[:, 0] > 0)), bool(np.any(given.answers[:, 1] == TAPE))
    return (layout.earlier is not None or not earlier) and (layout.offset is not None or not tape)


def _go_on(
    part: _Part,
    bank: Bank,
    told: Told,
    tuning: Tuning,
    give: Callable[[Beliefs], None],
    resumed: Sequence[State],
    whole: _Whole,
) -> None:
    """One pass over the limbs of a part, each from its own day; days of the pass are counted from there."""
    which, begin, ends = part.which, part.begin, part.ends
    who = np.array(which, np.int64)
    save: dict[int, list[int]] = {}
    wanted: dict[int, list[int]] = {}
    for k, end in enumerate(ends.tolist()):
        wanted.setdefault(end, []).append(k)
        for day in {end - ago for ago in SAVED if end - ago >= 0}:
            save.setdefault(day, []).append(k)

    def saved(limb: int, day: int, state: State) -> None:
        whole.states[which[limb]][int(begin[limb]) + day] = state

    track = run_bank(
        bank,
        told,
        int(ends.max(initial=0)) + 1,
        tuning,
        Look(_rows(wanted), lambda one: give(replace(one, limb=who[one.limb], day=one.day + begin[one.limb]))),
        Carry(State.joined(resumed) if resumed else None, _rows(save), saved),
    )
    for k, i in enumerate(which):
        for row, name in enumerate(DAILY):
            whole.daily[row, begin[k] : begin[k] + ends[k] + 1, i] = getattr(track, name)[: ends[k] + 1, k]
    for alarm in track.alarms:
        if alarm.day <= ends[alarm.limb]:
            at = int(begin[alarm.limb])
            whole.alarms.append(replace(alarm, limb=which[alarm.limb], day=alarm.day + at, since=alarm.since + at))
    whole.tapes += [replace(one, limb=which[one.limb], day=one.day + int(begin[one.limb])) for one in track.tapes]


def _rows(by_day: dict[int, list[int]]) -> dict[int, Ints]:
    return {day: np.array(some, np.int64) for day, some in by_day.items()}


def _given(told: Told, i: int) -> Given:
    limbs, starts, answers = told.limbs, told.starts, told.answers
    mine = np.flatnonzero(answers.limb == i)
    rows = [answers.day, answers.slot, answers.low, answers.high, answers.soft, answers.lapse]
    table = np.stack([column[mine].astype(float) for column in rows], axis=1)
    start, pad = np.flatnonzero(starts.limb == i), np.flatnonzero(starts.pad_limb == i)
    fitted = np.stack([starts.day[start].astype(float), starts.mean[start], starts.sd[start]], axis=1)
    padded = np.stack([starts.pad_day[pad].astype(float), starts.pad_sd[pad]], axis=1)
    return Given(
        tuple(float(getattr(limbs, each.name)[i]) for each in fields(Limbs)),
        table[np.lexsort((table[:, 1], table[:, 0]))],
        fitted[np.argsort(fitted[:, 0], kind="stable")],
        padded[np.argsort(padded[:, 0], kind="stable")],
    )


def _rest(part: _Part, given: Sequence[Given]) -> Told:
    """What the limbs of a part are given from their own days on."""
    which, begin = part.which, part.begin

    def joined(name: str) -> tuple[Ints, Array]:
        tables = [getattr(given[i], name) for i in which]
        limb = np.repeat(np.arange(len(which)), [len(table) for table in tables])
        table = np.concatenate(tables)
        table[:, 0] -= begin[limb]
        left = table[:, 0] >= 0
        return limb[left], table[left]

    known = {each.name: np.array([given[i].limb[n] for i in which]) for n, each in enumerate(fields(Limbs))}
    known["age"] = known["age"] + begin
    limbs = Limbs(**{**known, "weekday": (known["weekday"] + begin).astype(np.int64)})
    limb, heard = joined("answers")
    fitted_limb, fitted = joined("starts")
    pad_limb, pads = joined("pads")
    answers = Answers(limb, heard[:, 0].astype(np.int64), heard[:, 1].astype(np.int64), *heard[:, 2:].T)
    starts = Starts(
        fitted_limb,
        fitted[:, 0].astype(np.int64),
        fitted[:, 1],
        fitted[:, 2],
        pad_limb,
        pads[:, 0].astype(np.int64),
        pads[:, 1],
    )
    return Told(limbs, starts, answers)
