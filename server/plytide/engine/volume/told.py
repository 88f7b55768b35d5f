"""What the bank is told of some limbs: what is likely of each before its log, its sockets and pads, its answers and
tapes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core import observation, settling
from plytide.engine.core.bank import OFFSET_SD, TAPE, Answers, Limbs, Starts, Told
from plytide.engine.volume.constants import Constants
from plytide.engine.volume.log import Log
from plytide.model import is_child

Ints = NDArray[np.int64]


def told(logs: Sequence[Log], origin: Ints, last: Ints, constants: Constants) -> Told:
    """All of it, days counted from each limb's `origin` up to its `last`."""
    found = answers(logs, origin, last, constants)
    return Told(priors(logs, origin), starts(logs, origin, last, constants), found)


def priors(logs: Sequence[Log], origin: Ints) -> Limbs:
    """What is likely of each limb before anything is read in its log."""
    n = len(logs)
    age, coming, sd, slow = np.full(n, 400.0), np.zeros(n), np.full(n, 0.4), np.full(n, 0.4)
    weekly, weekday, even = np.zeros(n), np.zeros(n, np.int64), np.full(n, 0.05)
    for i, log in enumerate(logs):
        limb, first = log.history.limb, int(origin[i])
        weekday[i] = (first - 1) % 7
        if log.on_dialysis:
            weekly[i] = 0.3
        if limb.amputated_on is not None:
            age[i] = max(first - limb.amputated_on.toordinal(), 7)
        born = limb.born_on
        per_share = log.radius / 2.0
        if is_child(born, date.fromordinal(first)):
            coming[i], sd[i], slow[i], even[i] = -0.15, 0.3, 0.2, 0.7
        elif limb.amputated_on is not None and age[i] < settling.MATURE_DAYS:
            mean = settling.expected_loss(age[i] / 7.0) * per_share
            # Tantua reports a large spread between people without a figure: 50 % and 0.15 mm are judgement.
            coming[i], sd[i], slow[i], even[i] = mean, 0.5 * mean + 0.15, 0.2, 0.02
    return Limbs(age, coming, sd, weekly, weekday, slow, even)


def starts(logs: Sequence[Log], origin: Ints, last: Ints, constants: Constants) -> Starts:
    """Each socket's fitting, and for a limb without one at its first day what was worn then."""
    rows: list[tuple[int, int, float, float]] = []
    pads: list[tuple[int, int, float]] = []
    for i, log in enumerate(logs):
        s = log.series
        fitted = [(max(d - int(origin[i]), 0), mm, u) for d, mm, u in s.baseline if d - origin[i] <= last[i]]
        if not any(day == 0 for day, _, _ in fitted) and len(s.day):
            rows.append((i, 0, float(s.fill[0]), 0.6))
        # Half a step either way, and the wobble of the day; the stack's own error is in both ends of a change.
        # No sock at the fitting may also mean that none was entered.
        rows += [(i, day, mm, 0.4 if mm and math.isfinite(u) else 0.8) for day, mm, u in fitted]
        pads += [
            (i, int(on - origin[i]), constants.pad_sd_share * mm) for on, mm in s.pads if 0 <= on - origin[i] <= last[i]
        ]
    table, pad = np.array(rows, float).reshape(-1, 4), np.array(pads, float).reshape(-1, 3)
    return Starts(
        table[:, 0].astype(np.int64),
        table[:, 1].astype(np.int64),
        table[:, 2],
        table[:, 3],
        pad[:, 0].astype(np.int64),
        pad[:, 1].astype(np.int64),
        pad[:, 2],
    )


def answers(logs: Sequence[Log], origin: Ints, last: Ints, constants: Constants) -> Answers:
    """What each entry and each tape says of the need, as intervals."""
    columns: list[list[NDArray[np.generic]]] = [[] for _ in range(7)]
    for i, log in enumerate(logs):
        s = log.series
        low, high, soft, lapse = observation.answer_interval(
            fill=s.fill,
            up=s.up,
            down=s.down,
            fit=s.fit,
            moved=s.moved,
            echo=s.echo,
            prefilled=s.prefilled,
            at_floor=s.at_floor,
        )
        day = s.day - origin[i]
        ok = (day >= 0) & (day <= last[i])
        values = (np.full(len(day), i, np.int64), day, s.phase, low, high, soft, lapse)
        for column, value in zip(columns, values, strict=True):
            column.append(value[ok])
        for row in _tape_rows(log, int(origin[i]), int(last[i]), constants):
            for column, value in zip(columns, (i, *row), strict=True):
                column.append(np.array([value]))
    joined = [np.concatenate(c) if c else np.zeros(0) for c in columns]
    return Answers(
        joined[0].astype(np.int64),
        joined[1].astype(np.int64),
        joined[2].astype(np.int64),
        *(c.astype(np.float64) for c in joined[3:]),
    )


def _tape_rows(log: Log, origin: int, last: int, constants: Constants) -> list[tuple[float, ...]]:
    """Day, slot, change since the first tape, what the tapes share may have moved by, own sd, no lapse."""
    own = constants.tape_sd_share * log.radius
    other_hand = math.sqrt(max((constants.tape_hands_sd_share * log.radius) ** 2 - 2 * own**2, 0.0))
    rows: dict[int, tuple[float, ...]] = {}
    for tape in log.series.tapes:
        day = tape.day - origin
        if not -constants.tape_near_days <= day <= last:
            continue
        moved = OFFSET_SD
        if tape.before is not None:
            habit = constants.tape_drift_share * log.radius * math.sqrt(tape.day - tape.before)
            moved = math.hypot(habit, 0.0 if tape.same_hand else other_hand)
        day = max(day, 0)
        rows[day] = (day, TAPE, tape.mm, moved, own, 0.0)
    return list(rows.values())
