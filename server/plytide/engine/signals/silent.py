"""Nothing logged, beyond the person's own usual gaps."""

from __future__ import annotations

from datetime import date, timedelta

from plytide.engine.facts import Facts
from plytide.engine.sentences import sentence, signal
from plytide.engine.signal_kind import Kind
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.model import Signal

# What a signal asks of the visit: trade practice; judgement.
KINDS = (
    Kind(
        "silent",
        label="silence",
        ask="Was it the phone, or the leg?",
        look="Whether logging can be made easier.",
    ),
)

WORDS = {
    "silent.never": "Nothing logged since the phone joined on {on:day}.",
    "silent.since": "No check-in for {quiet:days}; the last was on {on:day}.",
}


def rule(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    """Days without a word, beyond the person's own usual gaps."""
    last = facts.last_on(day)
    if last is None:
        joined = facts.history.watched_since
        if joined is None or (day - joined).days < thresholds.silent_call_days:
            return []
        return [signal(WORDS, "silent", "note", joined, [sentence("silent.never", on=joined)])]
    quiet = (day - last).days
    earlier = facts.between(last - timedelta(days=90), last)
    gaps = sorted((after - before).days for before, after in zip(earlier, earlier[1:], strict=False))
    usual = gaps[int(0.9 * (len(gaps) - 1))] if gaps else 1
    if quiet < max(thresholds.silent_days, usual + 2):
        return []
    loud = quiet >= max(thresholds.silent_call_days, 2 * usual)
    told = sentence("silent.since", quiet=quiet, on=last)
    return [signal(WORDS, "silent", "call" if loud else "note", last + timedelta(days=1), [told])]
