"""Worn for fewer hours than is usual for this person."""

from __future__ import annotations

from datetime import date, timedelta

from plytide.engine.facts import Facts, evidence
from plytide.engine.sentences import sentence, signal
from plytide.engine.signal_kind import Kind
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.model import Signal

# What a signal asks of the visit: trade practice; judgement.
KINDS = (
    Kind(
        "wear-drop",
        label="wear time",
        ask="What keeps you from wearing it?",
        look="Donning, brim comfort, sweat.",
        payer=("function", 2),
    ),
)

WORDS = {
    "wear-drop": "Worn {week:.1f} hours a day this week, {before:.1f} in the four weeks before.",
}


def rule(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    fell = _wear_fell(facts, day, thresholds)
    if not fell:
        return []
    last = facts.last_on(day) or day
    since = facts.run_start("wear-drop", thresholds, last, lambda each: bool(_wear_fell(facts, each, thresholds)))
    told = sentence("wear-drop", week=fell[1], before=fell[0])
    return [
        signal(
            WORDS,
            "wear-drop",
            "call",
            since,
            [told],
            evidence(facts.checkins(facts.between(day - timedelta(days=6), day))),
        )
    ]


def _wear_fell(facts: Facts, day: date, thresholds: Thresholds) -> tuple[float, float] | None:
    week, counted = facts.hours.mean(day - timedelta(days=6), day)
    # A new socket is worn for an hour or two at first: what is usual begins with it.
    socket = facts.socket_on(day)
    first = max(day - timedelta(days=34), socket.fitted_on if socket else date.min)
    usual, known = facts.hours.mean(first, day - timedelta(days=7))
    if counted >= 3 and known >= 7 and usual > 0 and week <= usual * (1 - thresholds.wear_drop_share) + 1e-9:
        return usual, week
    return None
