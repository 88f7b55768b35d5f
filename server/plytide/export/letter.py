"""What a letter can say of a limb, each value with its dates; a template filled with it. Pure: nouns in, words out.

A value that is not there is said to be not measured, with the days that were looked at: never an empty claim.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean
from typing import Any

from plytide.engine.facts import Facts, days, full
from plytide.engine.staff_words import FINDING, LEVEL, PLACE, word_of
from plytide.engine.thresholds import Thresholds
from plytide.export.visit_page import (
    decided_words,
    interval,
    lacking,
    socket_words,
    stack_words,
    state_words,
)
from plytide.model import Assessment, CheckIn, Measurement, TapeLevel
from plytide.wire.letter import IN_BRACES

NOT_MEASURED = "not measured"
BASIS = (
    "What was measured and logged on the dates named; patient-reported unless it says “by the clinic”. Not a diagnosis"
    " and not an order: what follows from it is for the treating clinician to decide."
)
FORTNIGHT, MONTH, SIX_WEEKS = timedelta(days=13), timedelta(days=29), timedelta(days=41)  # before today, today included
WEEK = timedelta(days=7)
MOST_FINDINGS, MOST_SIGNALS = 6, 5

DATE = re.compile(r"\b\d{1,2} (?:January|February|March|April|May|June|July|August|September|October|November|December)"
                  r" \d{4}\b|\b\d{4}-\d{2}-\d{2}\b")  # fmt: skip
SENTENCE_END = re.compile(r"(?<=[.!?])\s+(?=\S)")


@dataclass(frozen=True, slots=True)
class Said:
    """The words of one field, and whether there was anything to say."""

    text: str
    known: bool = True


@dataclass(frozen=True, slots=True)
class Around:
    """What a letter says that is not in a limb's history."""

    person: str
    clinic: str
    by: str
    physician: str | None = None
    thresholds: Thresholds | None = None
    decisions: Sequence[Mapping[str, Any]] = ()
    calls: Sequence[tuple[date, str]] = ()  # newest first
    makings: Sequence[str] = ()  # newest first, each with its day
    outcomes: Sequence[str] = ()  # outcome measures, each with its day
    others: Sequence[tuple[Facts, Assessment]] = ()  # the person's other limbs


def filled(template: str, values: Mapping[str, Said]) -> tuple[str, list[str]]:
    """(the template with its fields filled, the names of those that had no value). What is no field stays."""
    lacks: list[str] = []

    def say(found: re.Match[str]) -> str:
        value = values.get(found[1])
        if value is None:
            return found[0]
        if not value.known and found[1] not in lacks:
            lacks.append(found[1])
        return value.text

    return IN_BRACES.sub(say, template), lacks


def undated(text: str) -> list[str]:
    """Sentences with a figure and no date: each claim of a letter says when it held."""
    sentences = [one.strip() for line in text.splitlines() for one in SENTENCE_END.split(line)]
    return [one for one in sentences if re.search(r"\d", DATE.sub("", one)) and not DATE.search(one)]


def values(facts: Facts, assessment: Assessment, around: Around) -> dict[str, Said]:
    """Every field a template can ask for, by name, on the assessment's day."""
    limb, day = facts.history.limb, assessment.as_of
    cut = f", amputated {full(limb.amputated_on)}" if limb.amputated_on else f" (as of {full(day)})"
    return {
        "greeting": Said(f"Dear {around.physician}," if around.physician else "Dear colleague,"),
        "person": Said(around.person),
        "today": Said(full(day)),
        "clinic": Said(around.clinic),
        "by": Said(around.by),
        "limb": Said(f"{limb.side} {word_of(LEVEL, limb.level)}{cut}"),
        **_measured(facts, assessment),
        **_logged(facts, day),
        **_read(facts, assessment),
        "limits": _limits(around.thresholds, day),
        "making": _listed(around.makings, f"no making recorded as of {full(day)}"),
        "outcomes": _listed(around.outcomes, f"none measured as of {full(day)}"),
        "decision": _listed(decided_words(around.decisions), f"none recorded as of {full(day)}"),
        "calls": _listed([f"{full(on)}: {words}" for on, words in around.calls], f"none recorded as of {full(day)}"),
        "other_limb": _others(around.others, day),
    }


def _nothing(first: date, day: date) -> Said:
    return Said(f"{NOT_MEASURED} ({full(first)} to {full(day)})", known=False)


def _nothing_yet(day: date) -> Said:
    return Said(f"{NOT_MEASURED} (as of {full(day)})", known=False)


def _in_one(text: str) -> str:
    """Several sentences as one, so that the date before them stands for all."""
    return SENTENCE_END.sub(lambda _: " ", re.sub(r"[.!?](?=\s+\S)", ";", text)).rstrip(". ")


def _listed(lines: Sequence[str], none: str) -> Said:
    return Said("; ".join(_in_one(line) for line in lines)) if lines else Said(none)


def _measured(facts: Facts, assessment: Assessment) -> dict[str, Said]:
    """What the clinic entered."""
    day = assessment.as_of
    tapes = [one for one in facts.history.measurements if one.on <= day and one.levels]
    tapes.sort(key=lambda one: one.on)
    nothing = _nothing_yet(day)
    socket = facts.socket_on(day)
    fitting, limit = nothing, nothing
    if socket and socket.stack_at_fitting is not None and not socket.baseline_unsure:
        fitting = Said(f"{stack_words(socket.stack_at_fitting)} on {full(socket.fitted_on)}")
    if socket and socket.weight_limit_kg is not None:
        limit = Said(f"{socket.weight_limit_kg:g} kg, entered by the clinic for the socket of {full(socket.fitted_on)}")
    return {
        "tape": Said(tape_words(tapes[-1])) if tapes else nothing,
        "tape_before": Said(tape_words(tapes[-2])) if len(tapes) > 1 else nothing,
        "tape_change": _tape_change(*tapes[-2:]) or nothing if len(tapes) > 1 else nothing,
        "socket": Said(_in_one(socket_words(socket, day))) if socket else Said(f"none entered as of {full(day)}"),
        "ply_at_fitting": fitting,
        "weight_limit": limit,
        **_weights(facts, day),
        "next_visit": _next_visit(facts, day),
    }


def tape_words(tape: Measurement) -> str:
    levels = [
        f"{one.circumference_mm:g} mm at {one.from_end_mm:g} mm" + _level_name(one)
        for one in sorted(tape.levels, key=lambda one: one.from_end_mm)
    ]
    return f"{full(tape.on)}, from the end of the limb: {', '.join(levels)}"


def _level_name(level: TapeLevel) -> str:
    """What the clinic calls a level, where that says more than its distance."""
    said_already = not level.name or "from the end" in level.name
    return "" if said_already else f" ({level.name})"


def _tape_change(before: Measurement, after: Measurement) -> Said | None:
    """At the levels measured both times; None where there is none."""
    then = {one.from_end_mm: one.circumference_mm for one in before.levels}
    both = [one for one in after.levels if one.from_end_mm in then]
    parts = [
        f"{one.circumference_mm - then[one.from_end_mm]:+g} mm at {one.from_end_mm:g} mm"
        for one in sorted(both, key=lambda one: one.from_end_mm)
    ]
    if not parts:
        return None
    words = ", ".join(parts).replace("+0 mm", "0 mm").replace("-", "−")
    return Said(f"{full(before.on)} to {full(after.on)}, from the end of the limb: {words}")


def _weights(facts: Facts, day: date) -> dict[str, Said]:
    known = [one for one in facts.weights if one[0] <= day]
    last = known[-1] if known else None
    before = next((one for one in reversed(known) if last and one[0] <= last[0] - WEEK), None)

    def words(weight: tuple[date, float, str | None] | None) -> Said:
        if weight is None:
            return _nothing_yet(day)
        whose = "written down with the log" if weight[2] else "by the clinic"
        return Said(f"{weight[1]:g} kg on {full(weight[0])}, {whose}")

    return {"weight": words(last), "weight_before": words(before)}


def _next_visit(facts: Facts, day: date) -> Said:
    coming = [one for one in facts.history.visits if one >= day]
    return Said(full(min(coming))) if coming else Said(f"none booked as of {full(day)}")


def _logged(facts: Facts, day: date) -> dict[str, Said]:
    """What the wearer or a caregiver wrote."""
    last = facts.last_on(day)
    return {
        "ply": Said(f"{stack_words(facts.by_date[last][-1].stack)} on {full(last)}") if last else _nothing_yet(day),
        "comfort": _mean(facts, "comfort", day),
        "hours": _mean(facts, "hours_worn", day),
        "falls": _falls(facts, day),
        "skin": _skin(facts, day),
    }


def _written(facts: Facts, first: date, day: date) -> list[CheckIn]:
    return facts.checkins(facts.between(first, day))


def _mean(facts: Facts, field: str, day: date) -> Said:
    first = day - FORTNIGHT
    given = [value for one in _written(facts, first, day) if (value := getattr(one, field)) is not None]
    if not given:
        return _nothing(first, day)
    many = f"mean of {len(given)}, from {min(given):g} to {max(given):g}" if len(given) > 1 else "said once"
    return Said(f"{fmean(given):.1f} ({many}; {full(first)} to {full(day)})")


def _falls(facts: Facts, day: date) -> Said:
    first = day - MONTH
    given = [one.falls for one in _written(facts, first, day) if one.falls is not None]
    if not given:
        return _nothing(first, day)
    return Said(f"{sum(given)} written down ({full(first)} to {full(day)})")


def _skin(facts: Facts, day: date) -> Said:
    first = day - SIX_WEEKS
    logged = _written(facts, first, day)
    found = [
        f"{word_of(FINDING, each.finding)}, {word_of(PLACE, each.place)}, {full(one.date)}"
        for one in reversed(logged)
        for each in one.skin
    ]
    found = list(dict.fromkeys(found))
    if found:
        more = f"; and {len(found) - MOST_FINDINGS} before" if len(found) > MOST_FINDINGS else ""
        return Said("; ".join(found[:MOST_FINDINGS]) + more)
    looked = len({one.date for one in logged if one.skin_checked})
    if not looked:
        return _nothing(first, day)
    return Said(f"nothing found on the {days(looked)} it was looked at ({full(first)} to {full(day)})")


def _read(facts: Facts, assessment: Assessment) -> dict[str, Said]:
    """What the log was read as: signals, with their ranges, and never a verdict."""
    day, socket = assessment.as_of, facts.socket_on(assessment.as_of)
    volume, month, swing = _nothing_yet(day), _nothing(day - timedelta(days=28), day), _nothing_yet(day)
    if assessment.change_pct and socket:
        range_ = interval(assessment.change_pct, "%")
        volume = Said(f"{range_}{lacking(assessment)}, {full(socket.fitted_on)} to {full(day)}")
    if assessment.change_28d_pct:
        month = Said(f"{interval(assessment.change_28d_pct, '%')}, {full(day - timedelta(days=28))} to {full(day)}")
    if assessment.dialysis_swing_pct:
        swing = Said(f"{interval(assessment.dialysis_swing_pct, '%')}, as of {full(day)}")
    signals = [f"since {full(one.since)}: {_in_one(one.because)}" for one in assessment.signals[:MOST_SIGNALS]]
    more = len(assessment.signals) - MOST_SIGNALS
    none = Said(f"nothing as of {full(day)}") if assessment.checkins_used else _nothing_yet(day)
    return {
        "volume": volume,
        "volume_28d": month,
        "dialysis_swing": swing,
        "state": Said(f"as of {full(day)}, {_in_one(state_words(assessment))}"),
        "signals": Said("; ".join(signals) + (f"; and {more} more" if more > 0 else "")) if signals else none,
    }


def _limits(thresholds: Thresholds | None, day: date) -> Said:
    if thresholds is None:
        return _nothing_yet(day)
    return Said(
        f"in force on {full(day)}, {thresholds.stack_call_ply} ply to call and {thresholds.stack_due_ply} ply to see;"
        f" comfort down by {thresholds.comfort_drop:g}; {thresholds.falls_in_30_days} falls in 30 days; redness after"
        f" {thresholds.redness_minutes:g} minutes; steady within {thresholds.steady_margin_mm:g} mm"
    )


def _others(others: Sequence[tuple[Facts, Assessment]], day: date) -> Said:
    lines = []
    for facts, assessment in others:
        measured, logged = _measured(facts, assessment), _logged(facts, day)
        limb = facts.history.limb
        parts = [("tape by the clinic", measured["tape"]), ("sock stack", logged["ply"])]
        parts += [("comfort", logged["comfort"]), ("hours worn a day", logged["hours"])]
        listed = "; ".join(f"{what} {value.text}" for what, value in parts)
        lines.append(f"{limb.side} {word_of(LEVEL, limb.level)}; {listed}")
    return Said("; ".join(lines)) if lines else Said(f"no other residual limb entered as of {full(day)}")
