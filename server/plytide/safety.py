"""The fixed rules: when to stop wearing, whom to call. One data file, read by the phone and the server alike.

Format of `web/shared/safety-rules.json`: `rules` in order of urgency, each with
  `id`, `level` ("emergency", "stop_wear", "heart_team", "call_clinic"),
  `when`: one condition, being one of
    {"any": [conditions]}, {"all": [conditions]},
    {"finding": NAME}           a skin finding of this check-in,
    {"sign": NAME}              a sign of this check-in,
    {"profile": NAME}           a fact of the person's profile,
    {"child": true}             the person is under 18,
    {"redness_over": "clinic"}  a finding whose redness lasted longer than the clinic's limit,
    {"weight_gain": {"kg": N, "days": D}}  weight up by at least N kg on any weight of the D days before,
  `text`: by language, `title` and `do`; `source` and `status` as in the facts.
Nothing here waits for a network, a model or a trend.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from plytide.model import CheckIn, Limb

RULES_FILE = Path(__file__).resolve().parents[2] / "web" / "shared" / "safety-rules.json"
ALARM_FINDINGS = frozenset({"open_skin", "blister", "discharge", "spreading_redness", "colour_change", "numbness"})
LEVELS = ("emergency", "stop_wear", "heart_team", "call_clinic")


@dataclass(frozen=True, slots=True)
class Advice:
    """One rule that fired, with its words in the asked language."""

    rule: str
    level: str
    title: str
    do: str


@cache
def rules() -> tuple[dict[str, Any], ...]:
    """The rules as kept, most urgent first."""
    return tuple(json.loads(RULES_FILE.read_text(encoding="utf-8"))["rules"])


def advice_for(
    checkin: CheckIn,
    limb: Limb,
    earlier: Sequence[CheckIn] = (),
    *,
    redness_minutes: float = 20.0,
    language: str = "en",
) -> tuple[Advice, ...]:
    """The rules that fire for a check-in, most urgent first. `earlier` are the limb's check-ins before it."""
    fired = []
    for rule in rules():
        if _holds(rule["when"], checkin, limb, earlier, redness_minutes):
            words = rule["text"].get(language) or rule["text"]["en"]
            fired.append(Advice(rule["id"], rule["level"], words["title"], words["do"]))
    return tuple(fired)


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
            return _is_child(limb, checkin.date) is value
        case "redness_over":
            limit = redness_minutes if value == "clinic" else float(value)
            return any((found.redness_minutes or 0) > limit for found in checkin.skin)
        case "weight_gain":
            return _gained(checkin, earlier, float(value["kg"]), int(value["days"]))
    raise ValueError(f"safety: there is no condition {name}")


def _is_child(limb: Limb, day: date) -> bool:
    return limb.born_on is not None and (day - limb.born_on).days < 18 * 365.25


def _gained(checkin: CheckIn, earlier: Sequence[CheckIn], kg: float, days: int) -> bool:
    if checkin.weight_kg is None:
        return False
    before = [
        one.weight_kg
        for one in earlier
        if one.weight_kg is not None and 0 <= (checkin.date - one.date).days <= days and one.id != checkin.id
    ]
    return bool(before) and checkin.weight_kg - min(before) >= kg - 1e-9
