"""What was worn, in ply: the first stack of a day, the usual one of some days, and how it moved.

Labels are what a clinic speaks in; which of two stacks is more is asked of their thickness, since labels do not add up.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from plytide.engine.core.thickness import stack_thickness
from plytide.model import CheckIn, LimbHistory, Sock, Socket

STRIP_DAYS = 28
WEEK = 7
APART_MM = 0.15  # less is the same stack in another make or order; judgement

Stack = tuple[Sock, ...]


def thickness(stack: Stack) -> float:
    return stack_thickness(stack)[0]


def first_of(checkins: Iterable[CheckIn]) -> Stack | None:
    """The stack a day began with: putting on, else the first that was not said at its end."""
    order = {"putting_on": 0, "during": 1}
    known = [one for one in checkins if one.moment in order]
    return min(known, key=lambda one: (order[one.moment], one.time or "")).stack if known else None


def mornings(checkins: Iterable[CheckIn], first: date, last: date) -> list[tuple[date, Stack]]:
    """(day, the stack it began with) of the days from `first` to `last` that say so, oldest first."""
    by_day: dict[date, list[CheckIn]] = {}
    for one in checkins:
        if first <= one.date <= last:
            by_day.setdefault(one.date, []).append(one)
    found = ((day, first_of(by_day[day])) for day in sorted(by_day))
    return [(day, stack) for day, stack in found if stack is not None]


def usual(stacks: Sequence[Stack]) -> Stack | None:
    """The middle one by thickness: what was worn, not a mean that nobody wore."""
    ordered = sorted(stacks, key=thickness)
    return ordered[(len(ordered) - 1) // 2] if ordered else None


def codes(stack: Stack) -> tuple[str, ...]:
    """A stack as the codes of a sentence, thickest first: ("5", "1b") is a 5-ply and a 1-ply blend."""
    thick = sorted(stack, key=lambda sock: -sock.ply)
    return tuple(f"{sock.ply}{'b' if sock.make == 'blend' else ''}" for sock in thick)


def differ(one: Stack, other: Stack) -> bool:
    """Whether two stacks are something else, by their thickness and by their labels: a make that was not known before
    changes the one and not the other.
    """
    return abs(thickness(one) - thickness(other)) >= APART_MM and codes(one) != codes(other)


@dataclass(frozen=True, slots=True)
class Move:
    """From one stack to another, and the days it took."""

    before: Stack
    after: Stack
    days: int


def moved(checkins: Iterable[CheckIn], since: date, found: date) -> Move | None:
    """What was usual in the week before `since`, and what was worn by `found`; None where either is not said, or labels
    do not tell them apart.
    """
    known = mornings(checkins, since - timedelta(days=WEEK), found)
    before = [(day, stack) for day, stack in known if day < since]
    after = [(day, stack) for day, stack in known if day >= since]
    if not before or not after:
        return None
    usually = usual([stack for _, stack in before])
    assert usually is not None
    if not differ(usually, after[-1][1]):
        return None  # said in ply it would be no move
    return Move(usually, after[-1][1], (after[-1][0] - before[-1][0]).days)


def _worn_on(history: LimbHistory, day: date) -> Socket | None:
    worn = [one for one in history.sockets if one.fitted_on <= day and not (one.retired_on and one.retired_on <= day)]
    return max(worn, key=lambda one: (one.fitted_on, one.id), default=None)


def fit_since(history: LimbHistory, day: date) -> date | None:
    """Since when the socket of a day fits as it does: its fitting, or the last pad put into it. Before, the same limb
    needed other socks: that was no change of the limb. None where no socket is known.
    """
    socket = _worn_on(history, day)
    if socket is None:
        return None
    padded = [pad.on for pad in history.pads if pad.socket_id == socket.id and pad.on <= day]
    return max([socket.fitted_on, *padded])


@dataclass(frozen=True, slots=True)
class Strip:
    """The last four weeks of what a limb's days began with: mm by day, None where a day does not say so."""

    until: date
    mm: tuple[float | None, ...]
    now: Stack | None
    now_on: date | None
    was: Stack | None  # usual in the first week of the four and at this fit, where it is not what is worn now
    fitted_mm: float | None  # what the socket worn on the last day was made for
    socket_on: date | None  # the day that socket was fitted, where it is one of the four weeks


def strip(history: LimbHistory, checkins: Iterable[CheckIn], until: date) -> Strip:
    """`checkins`: those that stand."""
    first = until - timedelta(days=STRIP_DAYS - 1)
    known = mornings(checkins, first, until)
    by_day = {day: thickness(stack) for day, stack in known}
    days = [first + timedelta(days=n) for n in range(STRIP_DAYS)]
    now_on, now = known[-1] if known else (None, None)
    socket = _worn_on(history, until)
    since = fit_since(history, until) or first
    then = first + timedelta(days=WEEK)
    was = usual([stack for day, stack in known if since <= day < then])
    # What is worn now has to be of a later week, and something else by its thickness and its labels.
    if now is None or now_on is None or now_on < then or was is None or not differ(was, now):
        was = None
    fitted = socket.stack_at_fitting if socket else None
    return Strip(
        until,
        tuple(by_day.get(day) for day in days),
        now,
        now_on,
        was,
        None if fitted is None else thickness(fitted),
        socket.fitted_on if socket and socket.fitted_on > first else None,
    )
