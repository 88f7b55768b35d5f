"""More socks than the socket serves with."""

from __future__ import annotations

from datetime import date

from plytide.engine.facts import ALARM_SHOWN_DAYS, Facts, evidence_of_run, stack_over
from plytide.engine.sentences import sentence, signal
from plytide.engine.signal_kind import Kind
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.model import Signal

# What a signal asks of the visit: trade practice; judgement.
KINDS = (
    Kind(
        "stack-limit",
        label="sock stack",
        ask="How many socks by the evening?",
        look="Rotation and stability with the full stack.",
        payer=("limb", 1),
    ),
)

WORDS = {
    "stack-limit.ply": "The stack is {ply} ply by the labels (limit {limit}) on {on:day}.",
    "stack-limit.thick": "The stack is {thick} thick socks (limit {most}) on {on:day}.",
    "stack-limit.both": (
        "The stack is {ply} ply by the labels (limit {limit}) and {thick} thick socks (limit {most}) on {on:day}."
    ),
}


def rule(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    last = facts.last_on(day)
    if last is None or (day - last).days > ALARM_SHOWN_DAYS:
        return []

    def over(each: date) -> bool:
        nominal, thick = stack_over(facts.by_date[each], thresholds)
        return nominal >= thresholds.stack_call_ply or thick >= thresholds.thick_socks

    if not over(last):
        return []
    nominal, thick = stack_over(facts.by_date[last], thresholds)
    since = facts.run_start("stack-limit", thresholds, last, over)
    limit = thresholds.stack_due_ply if nominal >= thresholds.stack_due_ply else thresholds.stack_call_ply
    many, bulky = nominal >= thresholds.stack_call_ply, thick >= thresholds.thick_socks
    code = "stack-limit.both" if many and bulky else "stack-limit.ply" if many else "stack-limit.thick"
    told = sentence(code, ply=nominal, limit=limit, thick=thick, most=thresholds.thick_socks, on=last)
    level = "call" if nominal >= thresholds.stack_due_ply or bulky else "note"
    return [signal(WORDS, "stack-limit", level, since, [told], evidence_of_run(facts, since, last))]
