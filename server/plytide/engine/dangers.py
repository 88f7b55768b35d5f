"""Check-ins for which a fixed rule fired → a signal by rule, with the words said and who was told what.

A signal holds until two later days were clear, never by days alone: judgement, and the same on the phone
(`web/phone/standing-advice.js`). A day is clear when somebody looked at the skin and found nothing, was asked for the
signs of danger and said none, and nothing else said that day sets off a rule. A fast gain of weight needs more: a later
weight that is back. A look that came in together with the
report, or before it, clears nothing: the clinic could not have seen the one without the other.

A wearer's day may begin half a day before the server's: what was said of a day that is to come here counts from the
day on which it arrived, so that no danger waits for midnight.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from plytide.engine.safety import (
    Advice,
    advice_for,
    advice_of,
    danger_signs,
    fired,
    held,
    held_then,
    rank,
    redness_limit,
    weight_back,
)
from plytide.engine.sentences import sentence, signal
from plytide.engine.thresholds import DEFAULTS
from plytide.engine.weight_gain import after_session, lighter_before
from plytide.model import CheckIn, Limb, Sentence, Signal

CLEAR_DAYS = 2  # judgement: a spot that opens again does so within days
MOST_EVIDENCE = 20
LEVEL = {"emergency": "urgent", "stop_wear": "urgent", "heart_team": "call", "call_clinic": "call"}

# What holds of a rule's condition, then when it was reported and what the wearer was told. A word that another language
# has of its own beside the English as it was shown: `rule`, in the rules' file.
WORDS = {
    "safety.finding": "{found:FINDING} ({place:PLACE}),",
    "safety.sign": "{sign:SIGN},",
    "safety.redness": "redness for {minutes:g} minutes, the limit is {limit:g} ({place:PLACE}),",
    "safety.pain": "pain {score} of 10,",
    "safety.comfort": "comfort {score} of 10,",
    "safety.one-fall": "{count} fall,",
    "safety.falls": "{count} falls,",
    "safety.known": "known: {tag:TAG},",
    "safety.weight": "weight up {kg:.1f} kg in {span:days} ({before:g} to {after:g} kg),",
    "safety.weight-within-a-day": "weight up {kg:.1f} kg within a day ({before:g} to {after:g} kg),",
    "safety.like-days": "both as long after a dialysis session,",
    "safety.sessions-not-logged": "dialysis days are not logged,",
    "safety.something": "reported,",
    "safety.also": "Beside it:",
    "safety.reported": "reported on {on:day}.",
    "safety.told": "The wearer was told: “{shown}”.",
    "safety.told-caregiver": "The caregiver was told: “{shown}”.",
    "safety.clinic": "{shown}",
    "safety.unkept": "From an entry that could not be kept ({fields}): nothing else of it is known.",
    "safety.beyond": "What was sent ({fields}) is no value of its scale: it is told towards the danger.",
    "safety.came-together": "Days without it that came in together with it are not counted: {count}.",
    "safety.begun": "From an entry that was begun on the phone and not saved: nothing else of it is known.",
    "safety.taken-back": "It was said and taken back on {on:day}: ask what it was.",
}

#: Conditions about a number that has a scale, with the field it is sent in.
SCALES = {"pain_at_least": "pain", "comfort_at_most": "comfort", "falls_at_least": "falls"}


class Dangers:
    """What the rules found in one limb's standing check-ins, oldest day first; worked out once, asked for any day."""

    def __init__(
        self,
        limb: Limb,
        checkins: Sequence[CheckIn],
        unkept: Mapping[str, Sequence[str]] | None = None,
        beside: Sequence[CheckIn] = (),
        named: Mapping[str, str] | None = None,
    ) -> None:
        """`unkept`: by id, the fields for which an entry of `checkins` was refused; of it only the danger is known.
        `beside`: weights that were written down with the person's other limbs. `named`: the name a caregiver's phone
        says, by id."""
        self.beside, self.log, self.named = beside, [*checkins, *beside], named or {}
        self.limb, self.checkins, self.unkept = limb, checkins, unkept or {}
        self._known: dict[float, list[_Reports]] = {}
        self._clear: dict[float, list[CheckIn]] = {}

    def on(self, day: date, redness_minutes: float) -> list[Signal]:
        """The signals that hold on a day."""
        if redness_minutes not in self._known:
            self._known[redness_minutes] = self._found(redness_minutes)
        return [signal for each in self._known[redness_minutes] if (signal := each.on(day)) is not None]

    def urgent_on(
        self, day: date, redness_minutes: float, *, cleared_too: bool = False
    ) -> list[tuple[CheckIn, Mapping[str, Any], Signal]]:
        """(the last report, rule, what is said) of each urgent rule that holds on a day, most urgent rule first; with
        `cleared_too`, also of those that clear looks have ended."""
        self.on(day, redness_minutes)
        known = sorted(self._known[redness_minutes], key=lambda each: rank(each.rule["id"]))
        urgent = (each for each in known if LEVEL[each.rule["level"]] == "urgent")
        found = [(each, each.on(day, cleared_too=cleared_too)) for each in urgent]
        return [(each.upto(day)[-1], each.rule, told) for each, told in found if told is not None]

    def last_of(self, rule: str, day: date, redness_minutes: float) -> tuple[CheckIn, Mapping[str, Any]] | None:
        """(the last report, rule) of one rule that holds on a day."""
        self.on(day, redness_minutes)
        for each in self._known[redness_minutes]:
            if each.rule["id"] == rule and each.on(day) is not None:
                return each.upto(day)[-1], each.rule
        return None

    def rules_of(self, report: CheckIn) -> frozenset[str]:
        """The rules by which a report that stops the wear was told."""
        found = fired((report,), self.limb, DEFAULTS.redness_minutes)
        return frozenset(str(rule["id"]) for _, rules in found for rule in rules if rule["level"] == "stop_wear")

    def clear_after(self, report: CheckIn, day: date, redness_minutes: float) -> list[date]:
        """The clear days after a report, up to `day`: the same that end its signal."""
        if redness_minutes not in self._clear:
            spoken = {checkin.date for checkin, _ in fired(self.checkins, self.limb, redness_minutes, self.beside)}
            self._clear[redness_minutes] = self._clear_looks(spoken)
        looks = self._clear[redness_minutes]
        return [look.date for look in looks if report.date < look.date <= day and _can_clear(look, report)]

    def skin_rule(self, report: CheckIn, redness_minutes: float) -> tuple[str, str, list[Sentence]] | None:
        """(kind, rule, what is said) of the signal that told of a report about the skin; None where no rule fired."""
        if redness_minutes not in self._known:
            self._known[redness_minutes] = self._found(redness_minutes)
        fits = [each for each in self._known[redness_minutes] if each.stops_wear and report in each.checkins]
        told = next((each for each in fits if each.kind == "skin"), fits[0] if fits else None)
        return (told.kind, told.rule["id"], told.sentences(report)) if told else None

    def _found(self, redness_minutes: float) -> list[_Reports]:
        by_rule: dict[str, tuple[Mapping[str, Any], list[CheckIn]]] = {}
        spoken: set[date] = set()
        for checkin, rules in fired(self.checkins, self.limb, redness_minutes, self.beside):
            spoken.add(checkin.date)
            for rule in rules:
                by_rule.setdefault(rule["id"], (rule, []))[1].append(checkin)
        if not by_rule:
            return []
        clear = self._clear_looks(spoken)
        return [_Reports(rule, told, clear, self, redness_minutes) for rule, told in by_rule.values()]

    def _clear_looks(self, spoken: set[date]) -> list[CheckIn]:
        """One look of each clear day, the last to come; a day of which something else was said is none."""
        signs = set(danger_signs())
        asked = min((one.date for one in self.checkins if one.signs_checked), default=date.max)
        spoken = spoken | {one.date for one in self.checkins if one.skin or not signs.isdisjoint(one.signs)}
        clear: dict[date, CheckIn] = {}
        for one in self.checkins:
            # Before an app that asks for them, the signs of danger can't have been answered: skin alone counts.
            if one.skin_checked and one.date not in spoken and (one.signs_checked or one.date < asked):
                clear[one.date] = max(clear.get(one.date, one), one, key=_came)
        return [clear[each] for each in sorted(clear)]


def told(
    checkins: Sequence[CheckIn],
    replaced_by: Mapping[str, str],
    limb: Limb,
    redness_minutes: float,
    beside: Sequence[CheckIn] = (),
    named: Mapping[str, str] | None = None,
) -> dict[str, tuple[Advice, ...]]:
    """What the phone said to each check-in, most urgent first, by id; also to those that were corrected later.

    `beside`: weights written down with the person's other limbs. `named`: the name a caregiver's phone says, by id.
    """
    names = named or {}
    standing = [one for one in checkins if one.id not in replaced_by and not one.withdrawn]
    found = {
        one.id: tuple(advice_of(rule, name=names.get(one.id)) for rule in rules)
        for one, rules in fired(standing, limb, redness_minutes, beside)
    }
    for one in checkins:
        if one.id in replaced_by and not one.withdrawn:
            earlier = [*(each for each in standing if each.id != replaced_by[one.id]), *beside]
            if advice := advice_for(one, limb, earlier, redness_minutes=redness_minutes, name=names.get(one.id)):
                found[one.id] = advice
    return found


def heard_on(checkin: CheckIn) -> date:
    """The day from which the clinic can hear of it: its own, or that of its arrival where it is of a day to come."""
    return min(checkin.date, checkin.received_on or checkin.date)


def _came(checkin: CheckIn) -> date:
    return checkin.received_on or date.min


class _Reports:
    """The check-ins of one limb that set off one rule, oldest day first."""

    def __init__(
        self,
        rule: Mapping[str, Any],
        checkins: Sequence[CheckIn],
        clear: Sequence[CheckIn],
        of: Dangers,
        redness_minutes: float,
    ) -> None:
        self.rule, self.checkins, self.clear = rule, sorted(checkins, key=heard_on), clear
        self.of, self.redness_minutes = of, redness_minutes
        self.first = [0]  # of each report, the number of the first of its episode
        for n in range(1, len(self.checkins)):
            self.first.append(n if self._cleared(n - 1, self.checkins[n].date) else self.first[-1])

    @property
    def kind(self) -> str:
        return str(self.rule.get("kind", "safety"))

    @property
    def stops_wear(self) -> bool:
        return str(self.rule["level"]) == "stop_wear"

    def upto(self, day: date) -> Sequence[CheckIn]:
        """The reports that have come by a day, whether or not they still hold."""
        return self.checkins[: bisect_right(self.checkins, day, key=heard_on)]

    def on(self, day: date, *, cleared_too: bool = False) -> Signal | None:
        upto = bisect_right(self.checkins, day, key=heard_on)
        if not upto or (self._cleared(upto - 1, day) and not cleared_too):
            return None
        episode = self.checkins[self.first[upto - 1] : upto]
        return signal(
            WORDS,
            self.kind,
            LEVEL[self.rule["level"]],
            heard_on(episode[0]),
            [*self.sentences(episode[-1]), *self.also(episode), *self._together(episode[-1], day)],
            tuple(one.id for one in episode[-MOST_EVIDENCE:]),
            self.rule["id"],
        )

    def _cleared(self, at: int, day: date) -> bool:
        """Whether report number `at` was followed by clear looks enough up to `day`."""
        report = self.checkins[at]
        low, high = (bisect_right(self.clear, each, key=lambda one: one.date) for each in (report.date, day))
        if sum(_can_clear(look, report) for look in self.clear[low:high]) < CLEAR_DAYS:
            return False
        if self.rule["level"] != "heart_team":
            return True
        later = (one for one in self.of.log if report.date < one.date <= day)
        limb, _ = held_then(self.of.limb, report, self.redness_minutes)
        return any(weight_back(one, report, limb, self.of.log) for one in later)

    def _together(self, report: CheckIn, day: date) -> list[Sentence]:
        """That clear days are in the log and end nothing, where they came with the report itself."""
        came = [look for look in self.clear if report.date < look.date <= day and not _can_clear(look, report)]
        return [sentence("safety.came-together", count=len(came))] if came else []

    def also(self, episode: Sequence[CheckIn]) -> list[Sentence]:
        """Findings and signs of the same rule that an earlier day of the episode tells of and its last report does not:
        by the last alone they would go unsaid."""
        known, found = set(self._found_in(episode[-1])), []
        for one in reversed(episode[-MOST_EVIDENCE:-1]):
            new = [part for part in self._found_in(one) if part not in known]
            if new:
                known |= set(new)
                found += [sentence("safety.also"), *new, sentence("safety.reported", on=one.date)]
        return found

    def _found_in(self, checkin: CheckIn) -> list[Sentence]:
        limb, minutes = held_then(self.of.limb, checkin, self.redness_minutes)
        leaves = held(self.rule["when"], checkin, limb, self.of.log, minutes)
        named = [(name, value) for name, value in leaves if name in ("finding", "sign")]
        return [part for name, value in named for part in _parts(name, value, checkin, limb, self.of.log, 0.0)]

    def sentences(self, checkin: CheckIn) -> list[Sentence]:
        limb, minutes = held_then(self.of.limb, checkin, self.redness_minutes)
        limit = redness_limit(limb, minutes)
        leaves = held(self.rule["when"], checkin, limb, self.of.log, minutes)
        parts = [part for name, value in leaves for part in _parts(name, value, checkin, limb, self.of.log, limit)]
        found = list(dict.fromkeys(parts)) or [sentence("safety.something")]
        rule = (str(self.rule["id"]),)
        found.append(sentence("safety.reported", on=checkin.date))
        name = self.of.named.get(checkin.id)
        shown = advice_of(self.rule, name=name).title
        found.append(sentence("safety.told-caregiver" if name else "safety.told", rule=rule, shown=shown))
        if self.rule.get("clinic"):
            found.append(sentence("safety.clinic", rule=rule, shown=str(self.rule["clinic"])))
        faults = self.of.unkept.get(checkin.id)
        if faults is not None:
            # Where the words come from, when it is no entry that anybody can open.
            fields = ", ".join(name.replace("_", " ") for name in faults)
            found.append(sentence("safety.unkept", fields=fields) if faults else sentence("safety.begun"))
            beyond = [SCALES[name] for name, _ in leaves if SCALES.get(name) in faults]
            if beyond:
                found.append(sentence("safety.beyond", fields=", ".join(beyond)))
        return found


def _can_clear(look: CheckIn, report: CheckIn) -> bool:
    """What came in together with the report clears nothing; where the days of arrival are not known, it does."""
    return look.received_on is None or report.received_on is None or look.received_on > report.received_on


def _parts(name: str, value: Any, checkin: CheckIn, limb: Limb, log: Sequence[CheckIn], limit: float) -> list[Sentence]:
    """A condition that holds, as parts of a sentence for staff."""
    match name:
        case "finding":
            return [
                sentence("safety.finding", found=(value,), place=(found.place,))
                for found in checkin.skin
                if found.finding == value
            ]
        case "sign":
            return [sentence("safety.sign", sign=(value,))]
        case "redness_over":
            longest = max(checkin.skin, key=lambda found: found.redness_minutes or 0)
            over = limit if value == "clinic" else float(value)
            minutes = longest.redness_minutes or 0
            return [sentence("safety.redness", minutes=minutes, limit=over, place=(longest.place,))]
        case "pain_at_least":
            return [sentence("safety.pain", score=checkin.pain or 0)]
        case "comfort_at_most":
            return [sentence("safety.comfort", score=checkin.comfort or 0)]
        case "falls_at_least":
            count = checkin.falls or 0
            return [sentence("safety.one-fall" if count == 1 else "safety.falls", count=count)]
        case "profile":
            return [sentence("safety.known", tag=(value,))]
        case "weight_gain":
            return _gain(checkin, limb, log, int(value["days"]))
    return []


def _gain(checkin: CheckIn, limb: Limb, log: Sequence[CheckIn], window: int) -> list[Sentence]:
    least = lighter_before(checkin, limb, log, window)
    if least is None or checkin.weight_kg is None or least.weight_kg is None:
        return []
    span = (checkin.date - least.date).days
    found = [
        sentence(
            "safety.weight" if span else "safety.weight-within-a-day",
            kg=checkin.weight_kg - least.weight_kg,
            span=span,
            before=least.weight_kg,
            after=checkin.weight_kg,
        )
    ]
    if "dialysis" in limb.tags:
        known = after_session(checkin, log) is not None
        found.append(sentence("safety.like-days" if known else "safety.sessions-not-logged"))
    return found
