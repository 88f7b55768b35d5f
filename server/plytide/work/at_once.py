"""A danger in what a call brings → its signal on the worklist, in that call's own transaction.

The engine's round comes behind and says the same again with the whole log in sight; nobody waits for it to be told.
"""

from __future__ import annotations

import logging
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import orjson
from sqlite_utils import Database

from plytide.engine import assess, safety
from plytide.engine.thresholds import Thresholds
from plytide.model import CheckIn, LimbHistory, Signal
from plytide.storage import assessment as assessments
from plytide.storage import checkin as checkins
from plytide.storage import clinics, signals
from plytide.storage import history as histories
from plytide.storage.sqlite import OperationalError
from plytide.wire import checkin as wire
from plytide.work import mail, reassess, signal_life

log = logging.getLogger("plytide")

DAYS_BACK = 30  # a danger of an older day is found by the round, seconds later; judgement


def tell(db: Database, speaking: Sequence[checkins.New], heard: Collection[str], newest: int, now: datetime) -> None:
    """Put the dangers of entries kept now, of which those that may be `speaking` of one are given, and of limbs of
    which a refused one was `heard`, on the worklist. Of a log, so many of the `newest` entries are looked at.

    A log that can't be read is left to the round, which sets it aside: nothing of the call that brought it is lost.
    Only inside a write transaction.
    """
    if not speaking and not heard:
        return
    by_limb = _of_late(speaking, now)
    by_limb |= {limb_id: None for limb_id in heard}
    news: list[str] = []
    thresholds = reassess.thresholds_of(clinics.clinic_row(db)["settings"]) if by_limb else None
    for limb_id, entries in sorted(by_limb.items()):
        try:
            found = _found(db, limb_id, entries, now, thresholds or Thresholds(), newest)
            # A limb that was never read is shown as one of which nothing is known but this.
            unread = found and assessments.of_limb(db, limb_id) is None
            history, said = found or (None, ())
            blank = replace(history, checkins=()) if history and unread else None
            shown = assess.assess(blank, [now.date()])[0] if blank else None
        except OperationalError:
            raise
        except Exception as error:
            log.error("at once: %s at limb %s", type(error).__name__, limb_id, exc_info=error)
            continue
        if not said:
            continue
        news += signal_life.reconcile(db, limb_id, said, now, safety.emergencies(), whole=False)
        if blank and shown:
            reassess.show(db, blank, shown, None, now)
        else:
            reassess.rank(db, limb_id)
    if news:
        mail.tell(db, news, now)


def _of_late(speaking: Sequence[checkins.New], now: datetime) -> dict[str, list[CheckIn] | None]:
    """Those of the last days, by limb."""
    since = (now - timedelta(days=DAYS_BACK)).date().isoformat()
    found: dict[str, list[CheckIn] | None] = {}
    for id_, limb_id, body, *_ in speaking:
        if orjson.loads(body)["date"] >= since:
            entries = found.setdefault(limb_id, [])
            if entries is not None:
                entries.append(wire.noun(0, id_, limb_id, body, now.isoformat()))
    return found


def _found(
    db: Database, limb_id: str, entries: Sequence[CheckIn] | None, now: datetime, thresholds: Thresholds, newest: int
) -> tuple[LimbHistory, Sequence[Signal]] | None:
    """The limb's `newest` entries and the dangers in them; None where the entries add none to what is on the list."""
    if entries is not None:
        limb = histories.limb_of(db, limb_id)
        if limb is None:
            return None
        tags = frozenset(limb.tags).union(*(past.tags for past in limb.past))
        weighed = any(one.weight_kg is not None for one in entries) and safety.weighs(tags)
        minutes = thresholds.redness_minutes
        fired = {advice.rule for one in entries for advice in safety.advice_for(one, limb, redness_minutes=minutes)}
        open_now = signals.unclosed(db, [limb_id])[limb_id]
        listed = {row["rule"] for row in open_now if row["status"] == "open" and row["holds"]}
        if fired <= listed and not weighed:
            return None
    history = histories.history(db, limb_id, newest=newest)
    return (history, assess.dangers_on(history, now.date(), thresholds)) if history else None
