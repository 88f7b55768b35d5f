"""Comfort that fell, or was low more than once."""

from __future__ import annotations

from datetime import date, timedelta

from plytide.engine.core.score_change import hurts_more
from plytide.engine.facts import Facts, evidence
from plytide.engine.sentences import sentence, signal
from plytide.engine.signal_kind import Kind
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.model import Signal

# What a signal asks of the visit: trade practice; judgement.
KINDS = (
    Kind(
        "comfort-drop",
        label="comfort",
        ask="Where does it hurt, and when in the day?",
        look="Brim, bony points, end of the limb.",
        payer=("function", 1),
    ),
)

WORDS = {
    "comfort-drop.fell": "Comfort averages {week:.1f} this week, {before:.1f} in the four weeks before (10 is best).",
    "comfort-drop.low": "Comfort was {low} or less on {count:days} of the last 7 (10 is best).",
    "comfort-drop.pain": "Pain averages {week:.1f} this week, {before:.1f} before (0 is none).",
}


def rule(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    fell, low = _comfort_fell(facts, day, thresholds), _comfort_low(facts, day, thresholds)
    if not fell and not low:
        return []
    if fell:
        told = [sentence("comfort-drop.fell", week=fell[1], before=fell[0])]
    else:
        told = [sentence("comfort-drop.low", low=thresholds.comfort_low, count=len(low))]

    hurts, counted = facts.pain.mean(day - timedelta(days=6), day)
    hurt, known = facts.pain.mean(day - timedelta(days=34), day - timedelta(days=7))
    if counted >= 3 and known >= 7 and hurts_more(hurt, hurts):
        told.append(sentence("comfort-drop.pain", week=hurts, before=hurt))

    def still(each: date) -> bool:
        return bool(_comfort_fell(facts, each, thresholds) or _comfort_low(facts, each, thresholds))

    last = facts.last_on(day) or day
    since = facts.run_start("comfort-drop", thresholds, last, still)
    since = min([since, *_comfort_low(facts, since, thresholds)])
    return [
        signal(
            WORDS,
            "comfort-drop",
            "call",
            since,
            told,
            evidence(facts.checkins(facts.between(day - timedelta(days=6), day))),
        )
    ]


def _comfort_fell(facts: Facts, day: date, thresholds: Thresholds) -> tuple[float, float] | None:
    """(own baseline, this week's mean) when the week is lower by the limit. One score on one day is noise."""
    week, counted = facts.comfort.mean(day - timedelta(days=6), day)
    usual, known = facts.comfort.mean(day - timedelta(days=34), day - timedelta(days=7))
    if counted >= 3 and known >= 7 and usual - week >= thresholds.comfort_drop - 1e-9:
        return usual, week
    return None


def _comfort_low(facts: Facts, day: date, thresholds: Thresholds) -> list[date]:
    """Days of the week at or below the low mark, when there are two."""
    low = [
        each
        for each in facts.between(day - timedelta(days=6), day)
        if min(checkin.comfort for checkin in facts.by_date[each]) <= thresholds.comfort_low
    ]
    return low if len(low) >= 2 else []
