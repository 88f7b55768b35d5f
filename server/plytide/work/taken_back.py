"""A danger that came and was taken back before any round saw it → a signal all the same.

Whether the clinic is told must not hang on whether a round fell between the two calls: what a wearer said of danger
is told as said and taken back, and stays open until somebody at the clinic closes it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from functools import cache
from typing import Any

from sqlite_utils import Database

from plytide import model
from plytide.engine import assess, dangers, safety, sentences
from plytide.engine.thresholds import DEFAULTS
from plytide.storage import history as histories
from plytide.storage import signals
from plytide.wire.history import signal as signal_to_json
from plytide.work import mail

Change = tuple[model.CheckIn, tuple[str, ...] | None, model.CheckIn | None]
"""(what was said, the fields for which it could not be kept or None, what is said instead or None for nothing)"""


def tell(
    db: Database, limb_id: str, changes: Sequence[Change], redness_minutes: float, newest: int, now: datetime
) -> None:
    """Only inside a write transaction, after the changes were kept; of the log the `newest` entries count."""
    limb = histories.limb_of(db, limb_id)
    if limb is None:
        return
    log = cache(lambda: histories.history(db, limb_id, newest=newest))  # read where something asks for it
    # The entries around them are asked for their weights alone.
    weighed = any(one and one.weight_kg is not None for before, _, after in changes for one in (before, after))
    around = log() if weighed else None
    named, news = histories.named(db, limb_id, [before.id for before, *_ in changes]), list[str]()
    for before, faults, after in changes:
        ids = {before.id, after.id if after else before.id}
        beside = [one for one in around.checkins if one.id not in ids and one.replaces not in ids] if around else []
        lost = {} if faults is None else {before.id: faults}
        stays = {
            rule["id"]
            for _, rules in safety.fired([after] if after else [], limb, redness_minutes, beside)
            for rule in rules
        }
        said = dangers.Dangers(limb, [before], lost, beside, named).on(
            max(dangers.heard_on(before), now.date()), redness_minutes
        )
        for one in said:
            if one.rule in stays:
                continue
            ended = _with_end(one, now.date())
            if told := _told(db, limb_id, one.rule, before.id):
                if one.rule not in _held(log(), now.date(), redness_minutes):
                    _add_end(db, told, ended, now)
            else:
                news.append(_open(db, limb_id, ended, now))
    mail.tell(db, news, now)


def _held(history: model.LimbHistory | None, day: date, redness_minutes: float) -> set[str | None]:
    """The rules that what stands in the log sets off on a day."""
    thresholds = replace(DEFAULTS, redness_minutes=redness_minutes)
    return {one.rule for one in assess.dangers_on(history, day, thresholds)} if history else set()


def _told(db: Database, limb_id: str, rule: str | None, entry_id: str) -> list[dict[str, Any]]:
    return [row for row in signals.of_limb(db, limb_id) if row["rule"] == rule and entry_id in row["evidence"]]


def _add_end(db: Database, told: Sequence[dict[str, Any]], said: model.Signal, now: datetime) -> None:
    """What the clinic was told of before, and no other entry holds, says that it was taken back."""
    words = {"because": said.because, "sentences": signal_to_json(said)["sentences"]}
    for row in told:
        if row["status"] != "closed" and row["because"] != said.because:
            signals.set_status(db, row["id"], **words)
            signals.event(db, row["id"], now, "taken-back", **words)


def _with_end(said: model.Signal, on: date) -> model.Signal:
    told = [*said.sentences, sentences.sentence("safety.taken-back", on=on)]
    return sentences.signal(dangers.WORDS, said.kind, said.level, said.since, told, said.evidence, said.rule)


def _open(db: Database, limb_id: str, said: model.Signal, now: datetime) -> str:
    """A new signal that is open and no longer seen; or, of an unclosed one of the same rule, a new report."""
    words = {"because": said.because, "sentences": signal_to_json(said)["sentences"]}
    since = said.since.isoformat()
    row = next((row for row in signals.unclosed(db, [limb_id])[limb_id] if row["rule"] == said.rule), None)
    if row is not None:
        evidence = [*row["evidence"], *said.evidence][-dangers.MOST_EVIDENCE :]
        own = {} if row["holds"] else words  # what still holds keeps its own words
        signals.set_status(db, row["id"], status="open", snoozed_until=None, evidence=evidence, **own)
        signals.event(db, row["id"], now, "reported-again", evidence=evidence, **words)
        if not row["holds"]:
            signals.event(db, row["id"], now, "no-longer-seen")
        return str(row["id"])
    opened = {"level": said.level, "since": since, "evidence": list(said.evidence), **words}
    id_ = signals.open_new(db, limb_id, now, said.kind, opened, rule=said.rule, holds=False)
    signals.event(db, id_, now, "no-longer-seen")
    return id_
