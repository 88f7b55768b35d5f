"""The definitive socket that is planned after a diagnostic one."""

from __future__ import annotations

from datetime import date, timedelta

from plytide.engine import remake
from plytide.engine.facts import Facts
from plytide.engine.readiness import HELD_WORDS, readiness_of
from plytide.engine.remake import NEAR_DAYS, Clock, clock_of
from plytide.engine.sentences import sentence, signal
from plytide.engine.signal_kind import Kind
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.model import LimbHistory, Reason, Signal

# What a signal asks of the visit: trade practice; judgement.
KINDS = (
    Kind(
        "remake",
        label="definitive socket",
        ask="How many socks now, and at fitting?",
        look="Whether the diagnostic socket's shape still holds; what to change.",
    ),
)

WORDS = remake.WORDS | {
    "remake.booked": "The next visit is booked for {on:day}.",
    "remake.no-visit": "No visit is booked.",
    "remake.held": "It waits while a recast is on hold:",  # why follows, as the state of the limb says it
}


def rule(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    """The definitive socket that is planned after a diagnostic one; it holds back while the limb is held."""
    clock = clock_of(facts.history, day, thresholds)
    if clock is None:
        return []
    state, _, reasons = readiness_of(facts, view, (), day, thresholds)
    found = _signal(clock, facts.history, day, reasons[0] if state == "held" else None)
    return [found] if found else []


def _signal(clock: Clock, history: LimbHistory, day: date, on_hold: Reason | None) -> Signal | None:
    """A note when the planned days come near and no visit is booked by then, a call when they have passed.

    `on_hold`: what holds a recast back, said beside it; nobody is then asked to call. A visit that is booked is no
    call either: it is the answer.
    """
    if not (clock.near(day) or clock.missed(day)):
        return None
    booked = next((visit for visit in sorted(history.visits) if visit >= day), None)
    if booked and booked <= clock.last:
        return None
    told = clock.sentences(day)
    told.append(sentence("remake.booked", on=booked) if booked else sentence("remake.no-visit"))
    if on_hold:
        told += [sentence("remake.held"), *on_hold.sentences]
    since = clock.last + timedelta(days=1) if clock.missed(day) else clock.first - timedelta(days=NEAR_DAYS)
    level = "call" if clock.missed(day) and not booked and not on_hold else "note"
    return signal(HELD_WORDS | WORDS, "remake", level, since, told)
