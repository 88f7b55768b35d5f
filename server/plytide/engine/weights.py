"""Weights of a limb's person: which may be held against each other, and the fast gain with heart failure."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from plytide.engine.facts import Facts, Gain
from plytide.engine.safety import heart_gains
from plytide.engine.thresholds import Thresholds
from plytide.engine.weight_gain import SESSION_DAYS


def weights(facts: Facts, first: date, last: date) -> tuple[tuple[date, float, str | None], ...]:
    """(day, kg, check-in id or None for the clinic's own) from `first` to `last`, oldest first."""
    low = bisect_left(facts.weights, first, key=lambda row: row[0])
    return facts.weights[low : bisect_right(facts.weights, last, key=lambda row: row[0])]


def after_session(facts: Facts, row: tuple[date, float, str | None]) -> int | None:
    """On dialysis: days from the last session to a weight; None where that is not known, or there is no dialysis.

    On the day of a session a weight of the morning is from before it; the clinic's own may be either.
    """
    if "dialysis" not in facts.history.limb.tags:
        return None
    day, _, id_ = row
    if day in facts.sessions:
        moment = next((one.moment for one in facts.by_date[day] if one.id == id_), None)
        if moment is None:
            return None
        if moment != "putting_on":
            return 0
    at = bisect_left(facts.sessions, day)
    gone = (day - facts.sessions[at - 1]).days if at else SESSION_DAYS + 1
    return gone if gone <= SESSION_DAYS else None


def alike(facts: Facts, rows: Sequence[tuple[date, float, str | None]]) -> list[tuple[date, float, str | None]]:
    """The weights that may be held against the last of them: on dialysis, those as long after a session as it.

    Where the last one's session was not logged there is nothing to tell them apart by, and all are given.
    """
    kind = after_session(facts, rows[-1]) if rows else None
    return [row for row in rows if kind is None or after_session(facts, row) == kind]


def heart_gain(facts: Facts, day: date, thresholds: Thresholds, *, however_long: bool = False) -> Gain | None:
    """A fast gain of somebody with heart failure that is not known to be over, by the rule the phone speaks by.

    On dialysis like days are compared, so that what is gained between two sessions is not taken for the heart's:
    that rises and falls each time, and would call the heart team three times a week. Where the sessions are not
    logged the two can't be told apart, and the rule speaks: a call too many is the lesser harm (judgement).
    Nobody weighed again, it is let go after four weeks; `however_long`: not even then.
    """
    if "heart_failure" not in facts.history.limb.tags:
        return None
    if thresholds.context_days not in facts.gains:
        facts.gains[thresholds.context_days] = list(_gains(facts, timedelta(days=thresholds.context_days)))
    at = bisect_right(facts.weights, day, key=lambda row: row[0])
    going = facts.gains[thresholds.context_days][at - 1] if at else None
    return going if going and (however_long or (day - going.after[0]).days <= thresholds.context_days) else None


def _gains(facts: Facts, longest: timedelta) -> Iterator[Gain | None]:
    """For each weight, oldest first, the fast gain that goes on then. Looks back only."""
    furthest = max(length for _, length in heart_gains())
    rows, kinds = facts.weights, [after_session(facts, row) for row in facts.weights]
    going: Gain | None = None
    for n, (row, kind) in enumerate(zip(rows, kinds, strict=True)):
        first = bisect_left(rows, row[0] - timedelta(days=furthest), key=lambda one: one[0])
        earlier = [
            one for one, its in zip(rows[first:n], kinds[first:n], strict=True) if kind is None or its in (None, kind)
        ]
        lowest = None
        for kg, length in heart_gains():
            near = [one for one in earlier if (row[0] - one[0]).days <= length]
            least = min(near, key=lambda one: one[1], default=None)
            if least and row[1] - least[1] >= kg - 1e-9 and (lowest is None or least[1] < lowest[1]):
                lowest = least
        if going and row[1] <= going.back_kg:
            going = None
        anew = going is None or row[0] - going.after[0] > longest
        if lowest:
            # What is named is one gain between two like days: an earlier start counts only if it is one of them.
            same = not anew and going is not None and after_session(facts, going.before) == kind
            base = going.before if going is not None and same and going.before[1] <= lowest[1] else lowest
            going = Gain(row[0] if anew or going is None else going.since, base, row)
        yield going
