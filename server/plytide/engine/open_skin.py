"""Skin that was reported open or changing: until when that holds, and what it waits for."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from plytide.engine import dangers
from plytide.engine.dangers import CLEAR_DAYS, heard_on
from plytide.engine.facts import Facts
from plytide.engine.sentences import in_english, reason, sentence
from plytide.engine.thresholds import Thresholds
from plytide.model import CheckIn, Look, Reason, Sentence

WORDS = {
    "skin-open": "Open or changing skin was reported on {on:day}.",
    "skin-open.clear-none": (
        "Lifted when the skin was looked at and clear on {needed} later days (so far on none), "
        "and the clinic has seen it"
    ),
    "skin-open.clear-one": (
        "Lifted when the skin was looked at and clear on {needed} later days (so far on {first:day}), "
        "and the clinic has seen it"
    ),
    "skin-open.clear-two": (
        "Lifted when the skin was looked at and clear on {needed} later days "
        "(so far on {first:day} and {second:day}), and the clinic has seen it"
    ),
    "skin-open.seen": "(on {on:day}).",
    "skin-open.unseen": "(nobody has acknowledged or closed it yet).",
    "danger-unseen.waits": "Lifted when somebody at the clinic has acknowledged or closed it.",
    "danger-unseen.waits-for-days": (
        "Lifted when {needed} later days were clear: the clinic's look is not known here."
    ),
}
# Where the clinic's looks are not known, that ends the sentence.
WORDS |= {
    f"{code}-not-known": f"{WORDS[code]}: the clinic's look is not known here."
    for code in ("skin-open.clear-none", "skin-open.clear-one", "skin-open.clear-two")
}


def clinic_look(facts: Facts, alarm: CheckIn, day: date) -> date | None:
    """The first day, up to `day`, on which the clinic acknowledged or closed it, once the entry had come."""
    rules = facts.dangers.rules_of(alarm)
    return _look(facts, alarm, day, lambda look: _of_skin(look, rules))


def danger_look(facts: Facts, report: CheckIn, rule: Mapping[str, Any], day: date) -> date | None:
    """The first day, up to `day`, on which the clinic acknowledged or closed what one rule said of a report."""
    skin = rule.get("kind") == "skin"
    return _look(facts, report, day, lambda look: look.rule == rule["id"] or (skin and _of_skin(look, ())))


def _look(facts: Facts, report: CheckIn, day: date, answers: Callable[[Look], bool]) -> date | None:
    """A look answers what it was at, and nothing else: a closed blister says nothing of a cold leg.

    Where only the days are known, each counts for all.
    """
    came = report.received_on or report.date
    at = facts.history.looks_at
    fits = (facts.history.clinic_looks or ()) if at is None else [look.on for look in at if answers(look)]
    return min((each for each in fits if came <= each <= day), default=None)


def _of_skin(look: Look, rules: Collection[str]) -> bool:
    """Of the skin as such: said to be closed and well, or a matter of it that no rule named."""
    return look.rule in rules or (look.kind == "skin" and (look.clear or look.rule is None))


def _over(facts: Facts, alarm: CheckIn, day: date, thresholds: Thresholds) -> bool:
    """Whether it was looked at and clear on enough later days, and a person at the clinic has seen it.

    Never by days alone; by the clinic's own look alone, where it says that the limb is clear. Where the clinic's looks
    are not known (a history file) the clear looks decide.
    """
    came = alarm.received_on or alarm.date
    rules = facts.dangers.rules_of(alarm)
    if any(look.clear and _of_skin(look, rules) and came <= look.on <= day for look in facts.history.looks_at or ()):
        return True  # a person at the clinic has looked at the limb itself: that is more than a look at home
    if len(facts.dangers.clear_after(alarm, day, thresholds.redness_minutes)) < CLEAR_DAYS:
        return False
    return facts.history.clinic_looks is None or clinic_look(facts, alarm, day) is not None


def alarms_open(facts: Facts, day: date, thresholds: Thresholds) -> list[CheckIn]:
    """The check-ins of an alarm not yet over, back to the last day on which an earlier one was."""
    alarms = facts.alarms[: bisect_right(facts.alarms, day, key=heard_on)]
    if not alarms or _over(facts, alarms[-1], day, thresholds):
        return []
    first = len(alarms) - 1
    while first > 0 and not _over(facts, alarms[first - 1], alarms[first].date - timedelta(days=1), thresholds):
        first -= 1
    return list(alarms[first:])


def skin_waits_words(facts: Facts, alarms: Sequence[CheckIn], day: date, thresholds: Thresholds) -> str:
    """`skin_waits` in English."""
    return in_english(WORDS, skin_waits(facts, alarms, day, thresholds), "skin-open")


def skin_waits(facts: Facts, alarms: Sequence[CheckIn], day: date, thresholds: Thresholds) -> list[Sentence]:
    """What a hold by open alarms still waits for."""
    last = alarms[-1]
    clear = facts.dangers.clear_after(last, day, thresholds.redness_minutes)
    clear_on = dict(zip(("first", "second"), clear, strict=False))  # more days say no more
    code = f"skin-open.clear-{('none', 'one', 'two')[len(clear_on)]}"
    if facts.history.clinic_looks is None:
        return [sentence(f"{code}-not-known", needed=CLEAR_DAYS, **clear_on)]
    seen = clinic_look(facts, last, day)
    looked = sentence("skin-open.seen", on=seen) if seen else sentence("skin-open.unseen")
    return [sentence(code, needed=CLEAR_DAYS, **clear_on), looked]


def danger_unseen(facts: Facts, day: date, thresholds: Thresholds) -> tuple[date, Reason] | None:
    """An emergency, or a reason to stop the wear, that nobody at the clinic has looked at yet: no cast before that.

    Clear looks at home do not end this: its signal stays open until a person has acted on it, and so does the hold.
    Where the clinic's looks are not known (a history file) it holds until the clear looks that end its signal.
    """
    known = facts.history.clinic_looks is not None
    for report, rule, told in facts.dangers.urgent_on(day, thresholds.redness_minutes, cleared_too=known):
        if known and danger_look(facts, report, rule, day):
            continue
        waits = sentence("danger-unseen.waits")
        if facts.history.clinic_looks is None:
            waits = sentence("danger-unseen.waits-for-days", needed=CLEAR_DAYS)
        return heard_on(report), reason(dangers.WORDS | WORDS, "danger-unseen", *told.sentences, waits)
    return None
