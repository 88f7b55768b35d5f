"""Signals' lives → what a wearer hears of what the clinic did about entries that set off advice. Reads only."""

from __future__ import annotations

from typing import Any, NamedTuple

from sqlite_utils import Database

from plytide.storage import checkin as checkins
from plytide.storage import signals

MOST_SIGNALS = 20  # the newest: what a phone still shows is not older
STATUS = {"acknowledge": "seen", "snooze": "seen", "close": "closed"}


class Dealt(NamedTuple):
    status: str
    on: str | None
    answer: str | None


OPEN = Dealt("open", None, None)


def of_limb(
    db: Database, limb_id: str, only_of: str | None = None, withheld: frozenset[str] = frozenset()
) -> list[dict[str, Any]]:
    """By signal and by what was done, newest first: the rule, the entries meant, how they stand, and the clinic's
    words.

    A deed counts for the entries that the signal held when it was done: an entry that came later has not been seen.
    With `only_of` a phone, entries of other writers stay out, and words that may be about them too; so do `withheld`.
    """
    advised = [one for one in signals.of_limb(db, limb_id) if one["kind"] in signals.ADVISED][:MOST_SIGNALS]
    if not advised:
        return []
    known = {row.id: row for row in checkins.of_limb(db, limb_id)}
    found = []
    for signal in advised:
        groups: dict[Dealt, list[str]] = {}
        for id_, dealt in _by_entry(signals.events_of(db, signal["id"]), signal, known).items():
            groups.setdefault(dealt, []).append(id_)
        for dealt, ids in sorted(groups.items(), key=lambda group: group[0].on or "9", reverse=True):
            mine = [id_ for id_ in ids if only_of is None or (id_ in known and known[id_].written_by == only_of)]
            mine = [id_ for id_ in mine if id_ not in withheld]
            if mine:
                answer = dealt.answer if len(mine) == len(ids) else None
                entry = {"rule": signal.get("rule"), "checkins": mine, **dealt._asdict(), "answer": answer}
                found.append(entry)
    return found


def _by_entry(
    events: list[dict[str, Any]], signal: dict[str, Any], known: dict[str, checkins.CheckInRow]
) -> dict[str, Dealt]:
    """Entry → what was last done about it, of those the signal holds or once held when somebody acted."""
    dealt: dict[str, Dealt] = dict.fromkeys(signal["evidence"], OPEN)
    for one in signals.standing_events(events):
        if one["event"] == "reopen":
            dealt = dict.fromkeys(dealt, OPEN)
        elif one["event"] in STATUS:
            # A deed of before its entries were kept with it: those that had come by then.
            came = [id_ for id_ in signal["evidence"] if id_ in known and known[id_].received_at <= one["at"]]
            for id_ in one.get("evidence", came):
                answer = one.get("answer") or dealt.get(id_, OPEN).answer
                dealt[id_] = Dealt(STATUS[one["event"]], one["at"][:10], answer)
    return dealt
