"""A fall, or several."""

from __future__ import annotations

from datetime import date, timedelta

from plytide.engine.facts import ALARM_SHOWN_DAYS, Facts, evidence
from plytide.engine.sentences import sentence, signal
from plytide.engine.signal_kind import Kind
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.model import CheckIn, Signal

# What a signal asks of the visit: trade practice; judgement.
KINDS = (
    Kind(
        "fall",
        label="fall",
        ask="How did it happen? Any injury?",
        look="Suspension, alignment, length, the other side.",
        payer=("function", 3),
    ),
)

WORDS = {
    "fall.one": "A fall on {on:day}.",
    "fall.several": "{count} falls in 30 days, the last on {on:day}.",
}


def rule(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    """A fall is told of for two weeks; several in 30 days ask for a call."""
    month = [c for c in facts.checkins(facts.between(day - timedelta(days=29), day)) if c.falls]
    if not month:
        return []
    per_day: dict[date, int] = {}
    for checkin in month:
        per_day[checkin.date] = max(per_day.get(checkin.date, 0), checkin.falls or 0)
    count, last = sum(per_day.values()), max(per_day)
    if count >= thresholds.falls_in_30_days:
        told = sentence("fall.several", count=count, on=last)
        since = facts.episode("fall", thresholds, day, lambda each: _repeated_falls(facts, each, thresholds))
        return [signal(WORDS, "fall", "call", since, [told], evidence(month))]
    if (day - last).days < ALARM_SHOWN_DAYS:
        return [signal(WORDS, "fall", "note", last, [sentence("fall.one", on=last)], evidence(month))]
    return []


def _repeated_falls(facts: Facts, day: date, thresholds: Thresholds) -> list[CheckIn]:
    """The check-ins that tell of a fall in the 30 days up to `day`, when there were several."""
    fell = [checkin for checkin in facts.window(day, 30) if checkin.falls]
    worst: dict[date, int] = {}
    for checkin in fell:
        worst[checkin.date] = max(worst.get(checkin.date, 0), checkin.falls or 0)
    return fell if sum(worst.values()) >= thresholds.falls_in_30_days else []
