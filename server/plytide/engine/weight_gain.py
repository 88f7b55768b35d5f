"""A weight held against the ones before it, as the safety rules and the phone do: check-ins only, day by day."""

from __future__ import annotations

from collections.abc import Sequence

from plytide.model import CheckIn, Limb

SESSION_DAYS = 7  # a last session further back than this is one that was not logged: judgement


def lighter_before(checkin: CheckIn, limb: Limb, earlier: Sequence[CheckIn], days: int) -> CheckIn | None:
    """The lightest weight of the days before that this one may be held against; the latest of several.

    On dialysis only days as long after a session are alike: what is gained between two sessions is expected, and a
    rule that spoke of it three times a week would soon not be heard (judgement). Where the last session before
    one of them is not in the log the two can't be told apart, and they count: a call too many is the lesser harm.
    """
    if checkin.weight_kg is None:
        return None
    before = [
        one
        for one in earlier
        if one.weight_kg is not None and 0 <= (checkin.date - one.date).days <= days and one.id != checkin.id
    ]
    if "dialysis" in limb.tags and before:
        log = (*earlier, checkin)
        gone = after_session(checkin, log)
        before = [one for one in before if gone is None or after_session(one, log) in (None, gone)]
    return min(before, key=lambda one: (kg_of(one), -one.date.toordinal()), default=None)


def kg_of(checkin: CheckIn) -> float:
    return checkin.weight_kg or 0.0


def after_session(checkin: CheckIn, log: Sequence[CheckIn]) -> int | None:
    """Days from the last dialysis session in the log to a weight; a morning's on the day of one is from before it."""
    morning = checkin.moment == "putting_on"
    sessions = (one.date for one in log if "dialysis" in one.tags)
    last = max((day for day in sessions if day < checkin.date or (day == checkin.date and not morning)), default=None)
    gone = (checkin.date - last).days if last else SESSION_DAYS + 1
    return gone if gone <= SESSION_DAYS else None
