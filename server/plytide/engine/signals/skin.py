"""Skin: lesser findings that stay, and an alarm that nobody at the clinic has seen."""

from __future__ import annotations

from datetime import date

from plytide.engine import dangers
from plytide.engine.dangers import CLEAR_DAYS, heard_on
from plytide.engine.facts import Facts, evidence
from plytide.engine.open_skin import alarms_open, clinic_look, danger_look
from plytide.engine.sentences import sentence, signal
from plytide.engine.signal_kind import Kind
from plytide.engine.staff_words import FINDING, word_of
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.model import CheckIn, Signal

RISKY_SKIN = {"diabetes", "vascular", "reduced_sensation"}

# What a signal asks of the visit: trade practice; judgement.
KINDS = (
    Kind(
        "skin",
        label="skin",
        ask="Is it open, and since when off the socket?",
        look="The whole skin, with touch and sight.",
        payer=("limb", 5),
    ),
)

WORDS = {
    "skin.lasting": "Skin finding ({found:FINDING}) on {count:days} of the last 7.",
    "skin.at-risk": "The profile names diabetes, vascular disease or reduced sensation.",
    "skin.unseen": (
        "Looked at and clear on {first:day} and {second:day}; nobody at the clinic has acknowledged or closed it."
    ),
}


def _lesser(facts: Facts, day: date, thresholds: Thresholds) -> Signal | None:
    """Lesser findings that stay. What the fixed rules speak of leads, as signals of their own: see `dangers`."""
    if any(signal.kind == "skin" for signal in facts.dangers.on(day, thresholds.redness_minutes)):
        return None

    def lasting(each: date) -> list[CheckIn]:
        seen = [checkin for checkin in facts.window(each, 7) if checkin.skin]
        return seen if len({checkin.date for checkin in seen}) >= 3 else []  # judgement

    lesser = lasting(day)
    if lesser:
        seen_on = {checkin.date for checkin in lesser}
        since = facts.episode("skin", thresholds, day, lasting)
        codes = {found.finding for checkin in lesser for found in checkin.skin}
        names = tuple(sorted(codes, key=lambda code: word_of(FINDING, code)))
        at_risk = bool(RISKY_SKIN & set(facts.history.limb.tags))
        told = [sentence("skin.lasting", found=names, count=len(seen_on))]
        if at_risk:
            told.append(sentence("skin.at-risk"))
        return signal(WORDS, "skin", "call" if at_risk else "note", since, told, evidence(lesser))
    return None


def _unseen(facts: Facts, day: date, thresholds: Thresholds) -> Signal | None:
    """An alarm that is clear again and that nobody at the clinic has seen stays a signal, a call, until somebody has.

    Without it a hold could wait for a look at something that was never told, where no round fell in between.
    """
    alarms = alarms_open(facts, day, thresholds)
    if not alarms or facts.history.clinic_looks is None or clinic_look(facts, alarms[-1], day):
        return None
    clear = facts.dangers.clear_after(alarms[-1], day, thresholds.redness_minutes)
    known = facts.dangers.skin_rule(alarms[-1], thresholds.redness_minutes)
    if len(clear) < CLEAR_DAYS or known is None:
        return None
    kind, rule, told = known
    told.append(sentence("skin.unseen", first=clear[0], second=clear[1]))
    return signal(dangers.WORDS | WORDS, kind, "call", heard_on(alarms[0]), told, evidence(alarms), rule)


def _dangers_unseen(facts: Facts, day: date, thresholds: Thresholds) -> list[Signal]:
    """Dangers that are clear again and that nobody at the clinic has seen: what holds a recast is told of."""
    if facts.history.clinic_looks is None:
        return []
    minutes = thresholds.redness_minutes
    holding = {signal.rule for signal in facts.dangers.on(day, minutes)}
    found = []
    for report, fixed, danger in facts.dangers.urgent_on(day, minutes, cleared_too=True):
        if danger.rule in holding or danger_look(facts, report, fixed, day):
            continue
        first, second = facts.dangers.clear_after(report, day, minutes)[:CLEAR_DAYS]
        told = [*danger.sentences, sentence("skin.unseen", first=first, second=second)]
        found.append(
            signal(dangers.WORDS | WORDS, danger.kind, "call", danger.since, told, danger.evidence, danger.rule)
        )
    return found


def rule(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    found = (_unseen(facts, day, thresholds), _lesser(facts, day, thresholds))
    told = [signal for signal in found if signal is not None]
    of = {(signal.kind, signal.rule) for signal in told}
    return [*told, *(one for one in _dangers_unseen(facts, day, thresholds) if (one.kind, one.rule) not in of)]
