"""The fixed rules: when to stop wearing, whom to call. One data file, read by the phone and the server alike.

Format of `web/shared/safety-rules.json`: `danger_signs`, the signs the phone asks for first and always, in order;
`rules` in order of urgency, each with
  `id`, `level` ("emergency", "stop_wear", "heart_team", "call_clinic"),
  `when`: one condition, being one of
    {"any": [conditions]}, {"all": [conditions]},
    {"finding": NAME}           a skin finding of this check-in,
    {"sign": NAME}              a sign of this check-in,
    {"profile": NAME}           a fact of the person's profile,
    {"child": true}             the person is under 18,
    {"redness_over": "clinic"}  a finding whose redness lasted longer than the clinic's limit, or half of it
                                for a limb that feels less or heals badly,
    {"pain_at_least": N}, {"comfort_at_most": N}, {"falls_at_least": N}  a number of this check-in,
    {"weight_gain": {"kg": N, "days": D}}  weight up by at least N kg on any weight of the D days before;
                                on dialysis, of days as long after a session,
  `text`: by language, `title` and `do`, and as a caregiver hears them `title_of` and `do_of`, with {name};
  `calls`: levels whose number its words name too ("emergency");
  `kind`: of its signal at the clinic where it is not "safety"; `clinic`: words for staff after what was said.
`safety-sources.json` beside it has each rule's `source` and `status` ("confirmed" only where the page was seen): no
phone needs them.
Nothing here waits for a network, a model or a trend. What a rule says reaches the clinic by `dangers`, whatever the
rule: a new one needs nothing but its lines in the file.
"""

from __future__ import annotations

import json
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from plytide import WEB_ROOT
from plytide.engine.weight_gain import SESSION_DAYS, after_session, kg_of, lighter_before
from plytide.model import CheckIn, Limb, is_child

RULES_FILE = WEB_ROOT / "shared" / "safety-rules.json"
SOURCES_FILE = RULES_FILE.with_name("safety-sources.json")
ALARM_FINDINGS = frozenset({"open_skin", "blister", "discharge", "spreading_redness", "colour_change", "numbness"})
CAREFUL = frozenset({"reduced_sensation", "diabetes", "vascular"})
HEART_BACK_KG = 1.0  # of what it was before: a fast gain is then over; judgement
SECONDS = 19  # characters of an instant
LEVELS = ("emergency", "stop_wear", "heart_team", "call_clinic")


@dataclass(frozen=True, slots=True)
class Advice:
    """One rule that fired, with its words in the asked language."""

    rule: str
    level: str
    title: str
    do: str


@cache
def _file(path: Path) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return read


def rules() -> tuple[dict[str, Any], ...]:
    """The rules as kept, most urgent first."""
    return tuple(_file(RULES_FILE)["rules"])


def rank(rule: str | None) -> int:
    """Where a rule stands in the order of urgency; what is no rule, or one no longer in the file, comes after all."""
    order = [each["id"] for each in rules()]
    return order.index(rule) if rule in order else len(order)


def emergencies() -> frozenset[str]:
    """The rules whose report wakes the clinic again, even while somebody is dealing with the one before."""
    return frozenset(rule["id"] for rule in rules() if rule["level"] == "emergency")


def danger_signs() -> tuple[str, ...]:
    """The signs that are asked for first and always."""
    return tuple(_file(RULES_FILE)["danger_signs"])


@cache
def heart_gains() -> tuple[tuple[float, int], ...]:
    """(kg, days) at which the heart-team rule speaks: what the phone says and what the clinic hears are one rule."""

    def gains(when: Mapping[str, Any]) -> list[tuple[float, int]]:
        (name, value), *_ = when.items()
        if name in ("any", "all"):
            return [gain for inner in value for gain in gains(inner)]
        return [(float(value["kg"]), int(value["days"]))] if name == "weight_gain" else []

    return tuple(gain for rule in rules() if rule["level"] == "heart_team" for gain in gains(rule["when"]))


def advice_for(
    checkin: CheckIn,
    limb: Limb,
    earlier: Sequence[CheckIn] = (),
    *,
    redness_minutes: float = 20.0,
    language: str = "en",
    name: str | None = None,
) -> tuple[Advice, ...]:
    """The rules that fire for a check-in, most urgent first. `earlier` are the limb's check-ins before it."""
    limb, redness_minutes = held_then(limb, checkin, redness_minutes)
    return tuple(
        advice_of(rule, language, name)
        for rule in rules()
        if _holds(rule["when"], checkin, limb, earlier, redness_minutes)
    )


def advice_of(rule: Mapping[str, Any], language: str = "en", name: str | None = None) -> Advice:
    """A rule in words; with the `name` of the one a caregiver cares for, as it is said to the caregiver."""
    words = rule["text"].get(language) or rule["text"]["en"]
    title, do = (words.get(f"{part}_of", words[part]) if name else words[part] for part in ("title", "do"))
    return Advice(rule["id"], rule["level"], title.replace("{name}", name or ""), do.replace("{name}", name or ""))


def fired(
    checkins: Sequence[CheckIn], limb: Limb, redness_minutes: float, beside: Sequence[CheckIn] = ()
) -> Iterator[tuple[CheckIn, list[dict[str, Any]]]]:
    """Those of a limb's check-ins for which rules fire, with the rules, most urgent first. Weights are also held
    against those `beside` it: a person has one weight, whichever limb it was written down with.

    Each is read by the profile and the limit that held when it was written: what was said then, a later change of
    the profile does not rewrite.
    """
    if not limb.past:
        yield from _fired(checkins, limb, redness_minutes, [*checkins, *beside])
        return
    groups: dict[tuple[Limb, float], list[CheckIn]] = {}
    for one in checkins:
        groups.setdefault(held_then(limb, one, redness_minutes), []).append(one)
    found = {
        id(one): (one, rules)
        for (then, minutes), group in groups.items()
        for one, rules in _fired(group, then, minutes, [*checkins, *beside])
    }
    yield from (found[id(one)] for one in checkins if id(one) in found)


def held_then(limb: Limb, checkin: CheckIn, redness_minutes: float) -> tuple[Limb, float]:
    """The limb with the profile, and the clinic's limit, that held when an entry was written."""
    if limb.past:
        at = _instant(checkin)
        for one in limb.past:
            if at < one.until[:SECONDS]:
                return replace(limb, tags=one.tags, born_on=one.born_on, past=()), one.redness_minutes
        limb = replace(limb, past=())
    return limb, redness_minutes


def _instant(checkin: CheckIn) -> str:
    """When it was written, in UTC to the second; where that is not known, the end of its day."""
    try:
        written = datetime.fromisoformat(checkin.written_at or "")
    except ValueError:
        return f"{checkin.date.isoformat()}T23:59:59"
    return (written.astimezone(UTC) if written.tzinfo else written).isoformat()[:SECONDS]


def _fired(
    checkins: Sequence[CheckIn], limb: Limb, redness_minutes: float, weighed: Sequence[CheckIn]
) -> Iterator[tuple[CheckIn, list[dict[str, Any]]]]:
    """Nearly every check-in says nothing that a rule asks for, and is passed over at a glance."""
    alive, ask = _alive(RULES_FILE, frozenset(limb.tags), limb.born_on is not None)
    if not alive:
        return
    near = _Near(weighed, ask) if ask.gain_kg is not None else None
    for checkin in checkins:
        if (
            checkin.comfort <= ask.comfort
            or (checkin.skin and ask.skin)
            or (checkin.signs and not ask.signs.isdisjoint(checkin.signs))
            or (checkin.pain is not None and checkin.pain >= ask.pain)
            or (checkin.falls is not None and checkin.falls >= ask.falls)
            or (near is not None and near.may_gain(checkin))
            or ask.always
        ):
            earlier = near.before(checkin) if near else ()
            found = [rule for rule in alive if _holds(rule["when"], checkin, limb, earlier, redness_minutes)]
            if found:
                yield checkin, found


def may_speak(said: Mapping[str, Any]) -> bool:
    """Whether what a check-in says could set off a rule for anybody: a glance at its own words, without its limb. Many
    pass that say nothing, and none is passed over.
    """
    alive, ask = _alive(RULES_FILE, _profiles(RULES_FILE), True)
    return bool(alive) and bool(
        said.get("comfort", 10) <= ask.comfort
        or (ask.skin and said.get("skin"))
        or not ask.signs.isdisjoint(said.get("signs") or ())
        or (said.get("pain") or 0) >= ask.pain
        or (said.get("falls") or 0) >= ask.falls
        or (ask.gain_kg is not None and said.get("weight_kg"))
        or ask.always
    )


def weighs(tags: frozenset[str]) -> bool:
    """Whether a rule reads the weights of somebody with this profile."""
    return _alive(RULES_FILE, tags, True)[1].gain_kg is not None


@cache
def _profiles(path: Path) -> frozenset[str]:
    """The tags that rules ask of a profile."""
    leaves = (leaf for rule in _file(path)["rules"] for leaf in _leaves(rule["when"]))
    return frozenset(value for name, value in leaves if name == "profile")


@dataclass(frozen=True, slots=True)
class _Ask:
    """What a check-in must say at least for any of some rules to fire."""

    signs: frozenset[str]
    skin: bool
    comfort: float
    pain: float
    falls: float
    gain_kg: float | None  # the smallest gain of weight that is asked about; None: no rule does
    gain_days: int
    always: bool  # a rule that asks nothing of the check-in


class _Near:
    """The check-ins of the days before each, which is all that a gain of weight is read from."""

    def __init__(self, checkins: Sequence[CheckIn], ask: _Ask) -> None:
        self.ask = ask
        self.log = sorted(checkins, key=lambda one: one.date)
        self.weighed = [one for one in self.log if one.weight_kg is not None]

    def before(self, checkin: CheckIn) -> Sequence[CheckIn]:
        """Up to its own day; a week further back than weights are held against, for the dialysis session before."""
        return _days_before(self.log, checkin.date, self.ask.gain_days + SESSION_DAYS)

    def may_gain(self, checkin: CheckIn) -> bool:
        if checkin.weight_kg is None:
            return False
        least = min(map(kg_of, _days_before(self.weighed, checkin.date, self.ask.gain_days)), default=checkin.weight_kg)
        return checkin.weight_kg - least >= (self.ask.gain_kg or 0) - 1e-9


def _days_before(log: Sequence[CheckIn], day: date, days: int) -> Sequence[CheckIn]:
    first = bisect_left(log, day - timedelta(days=days), key=lambda one: one.date)
    return log[first : bisect_right(log, day, key=lambda one: one.date)]


@lru_cache(maxsize=256)
def _alive(path: Path, tags: frozenset[str], born: bool) -> tuple[tuple[dict[str, Any], ...], _Ask]:
    """The rules that can ever fire for somebody with this profile, and what they ask of a check-in."""
    alive = tuple(rule for rule in _file(path)["rules"] if _possible(rule["when"], tags, born))
    leaves = [list(_leaves(rule["when"])) for rule in alive]
    values: dict[str, list[Any]] = {}
    for name, value in (leaf for each in leaves for leaf in each):
        values.setdefault(name, []).append(value)
    return alive, _Ask(
        signs=frozenset(values.get("sign", ())),
        skin="finding" in values or "redness_over" in values,
        comfort=max(values.get("comfort_at_most", ()), default=-1),
        pain=min(values.get("pain_at_least", ()), default=99),
        falls=min(values.get("falls_at_least", ()), default=99),
        gain_kg=min((float(each["kg"]) for each in values.get("weight_gain", ())), default=None),
        gain_days=max((int(each["days"]) for each in values.get("weight_gain", ())), default=0),
        always=any(_of_nobody_only(rule["when"]) for rule in alive),
    )


def _leaves(when: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """The conditions of a tree that are not made of others."""
    for name, value in when.items():
        if name in ("any", "all"):
            for inner in value:
                yield from _leaves(inner)
        else:
            yield name, value


def _possible(when: Mapping[str, Any], tags: frozenset[str], born: bool) -> bool:
    ((name, value),) = when.items()
    if name in ("any", "all"):
        return (any if name == "any" else all)(_possible(inner, tags, born) for inner in value)
    if name == "profile":
        return value in tags
    return born or not value if name == "child" else True


def _of_nobody_only(when: Mapping[str, Any]) -> bool:
    """True where the condition can hold for a check-in that says nothing: only the person is asked about."""
    ((name, value),) = when.items()
    if name in ("any", "all"):
        return (any if name == "any" else all)(map(_of_nobody_only, value))
    return name in ("profile", "child") or (name == "falls_at_least" and int(value) <= 0)


def _holds(
    when: Mapping[str, Any], checkin: CheckIn, limb: Limb, earlier: Sequence[CheckIn], redness_minutes: float
) -> bool:
    (name, value), *more = when.items()
    if more:
        raise ValueError(f"safety: a condition says one thing: {when}")

    def holds(inner: Mapping[str, Any]) -> bool:
        return _holds(inner, checkin, limb, earlier, redness_minutes)

    match name:
        case "any":
            return any(holds(inner) for inner in value)
        case "all":
            return all(holds(inner) for inner in value)
        case "finding":
            return any(found.finding == value for found in checkin.skin)
        case "sign":
            return value in checkin.signs
        case "profile":
            return value in limb.tags
        case "child":
            return is_child(limb.born_on, checkin.date) is value
        case "redness_over":
            limit = redness_limit(limb, redness_minutes) if value == "clinic" else float(value)
            return any((found.redness_minutes or 0) > limit for found in checkin.skin)
        case "pain_at_least":
            return checkin.pain is not None and checkin.pain >= int(value)
        case "comfort_at_most":
            return checkin.comfort <= int(value)
        case "falls_at_least":
            return (checkin.falls or 0) >= int(value)
        case "weight_gain":
            least = lighter_before(checkin, limb, earlier, int(value["days"]))
            return least is not None and kg_of(checkin) - kg_of(least) >= float(value["kg"]) - 1e-9
    raise ValueError(f"safety: there is no condition {name}")


def held(
    when: Mapping[str, Any], checkin: CheckIn, limb: Limb, earlier: Sequence[CheckIn], redness_minutes: float
) -> list[tuple[str, Any]]:
    """The conditions of a tree that hold, in its order: why a rule fired."""
    found: list[tuple[str, Any]] = []
    for name, value in _leaves(when):
        if _holds({name: value}, checkin, limb, earlier, redness_minutes):
            found.append((name, value))
    return found


def redness_limit(limb: Limb, clinic_minutes: float) -> float:
    """The clinic's limit in minutes; half of it for a limb that feels less or heals badly (judgement)."""
    return clinic_minutes / 2 if CAREFUL & set(limb.tags) else clinic_minutes


def weight_back(later: CheckIn, report: CheckIn, limb: Limb, log: Sequence[CheckIn]) -> bool:
    """Whether a later weight is back near what it was before a fast gain; on dialysis, of a day as long after a
    session.
    """
    if later.weight_kg is None:
        return False
    least = lighter_before(report, limb, log, max(days for _, days in heart_gains()))
    if least is None or later.weight_kg > kg_of(least) + HEART_BACK_KG:
        return False
    kinds = {after_session(one, log) for one in (later, report)} if "dialysis" in limb.tags else set()
    return None in kinds or len(kinds) < 2
