"""Sudden changes of volume beyond the trend."""

from __future__ import annotations

from datetime import date, timedelta

from plytide.engine.facts import Facts
from plytide.engine.sentences import sentence, signal
from plytide.engine.signal_kind import Kind
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.engine.worn import APART_MM, WEEK, codes, fit_since, moved, thickness
from plytide.model import Sentence, Signal

PASSING = {"hot_day", "dialysis", "illness", "long_standing", "travel"}
PASSING_DAYS = 3  # heat, salt and the like: judgement; no figure was found

# What a signal asks of the visit: trade practice; judgement.
KINDS = (
    Kind(
        "volume-loss",
        label="volume lost",
        ask="Which socks since then, and do they bottom out?",
        look="Pressure at the end and below the knee cap.",
        payer=("limb", 2),
    ),
    Kind(
        "volume-gain",
        label="volume gained",
        ask="Anything new: medicine, illness, heat, dialysis?",
        look="How far the limb goes in; swelling.",
        payer=("limb", 3),
    ),
)

WORDS = {
    "volume.loss-ply": (
        "{before:ply} → {after:ply} in {span:days}, since about {since:day}: a smaller limb, "
        "some {size:.1f} mm of sock beyond its course (found {found:day})."
    ),
    "volume.gain-ply": (
        "{before:ply} → {after:ply} in {span:days}, since about {since:day}: a larger limb, "
        "some {size:.1f} mm of sock beyond its course (found {found:day})."
    ),
    "volume.loss": (
        "A smaller limb since about {since:day}: some {size:.1f} mm of sock beyond its course (found {found:day})."
    ),
    "volume.gain": (
        "A larger limb since about {since:day}: some {size:.1f} mm of sock beyond its course (found {found:day})."
    ),
    "volume.new-socks": "New socks were noted at that time: they may be thicker or thinner than the old ones.",
}


def rule(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    """Sudden changes beyond the trend, as found by the engine."""
    newest = {alarm.kind: alarm for alarm in sorted(view.alarms, key=lambda alarm: alarm.found_on)}
    found = []
    for kind, alarm in newest.items():
        if _may_pass(facts, alarm.since, day):
            continue
        size = abs(alarm.size_mm.value)
        told = [_told(facts, kind, alarm.since, size, alarm.found_on)]
        around = facts.between(alarm.since - timedelta(days=1), alarm.since + timedelta(days=1))
        if any("new_socks" in checkin.tags for checkin in facts.checkins(around)):
            told.append(sentence("volume.new-socks"))
        found.append(signal(WORDS, kind, "call", alarm.since, told, alarm.evidence))
    return found


def _told(facts: Facts, kind: str, since: date, size: float, found: date) -> Sentence:
    """In ply where the socks moved the way the limb did; a fit answer or a tape may say it with the same socks."""
    code = "volume.loss" if kind == "volume-loss" else "volume.gain"
    first = since - timedelta(days=WEEK)
    known = facts.checkins(facts.between(max(first, fit_since(facts.history, found) or first), found))
    move = moved(known, since, found)
    grown = thickness(move.after) - thickness(move.before) if move else 0.0
    if move is None or (grown if kind == "volume-loss" else -grown) < APART_MM:
        return sentence(code, since=since, size=size, found=found)
    before, after = codes(move.before), codes(move.after)
    return sentence(f"{code}-ply", before=before, after=after, span=move.days, since=since, size=size, found=found)


def _may_pass(facts: Facts, since: date, day: date) -> bool:
    """The change is younger than what heat, dialysis or illness does to a limb, and one of them was noted."""
    if (day - since).days >= PASSING_DAYS:
        return False
    return any(PASSING & set(checkin.tags) for checkin in facts.checkins(facts.between(since, day)))
