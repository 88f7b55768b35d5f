"""The fixed safety rules → what a physician reads before agreeing to them, and the mark of what was agreed to."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from plytide.engine import safety

Rule = dict[str, Any]


@cache
def _kept(path: Path) -> dict[str, Any]:
    file = json.loads(path.read_text(encoding="utf-8"))
    sources = json.loads(safety.SOURCES_FILE.read_text(encoding="utf-8"))
    return {
        "version": file["version"],
        "reviewed_on": file.get("reviewed_on"),
        "danger_signs": file.get("danger_signs", []),
        "rules": [rule | sources.get(rule["id"], {}) for rule in file["rules"]],
    }


def kept() -> dict[str, Any]:
    """The file's version, and all of it that decides what a wearer is told."""
    return _kept(safety.RULES_FILE)


def mark(danger_signs: list[str], rules: list[Rule]) -> str:
    """A fingerprint of content, whatever the order of names within it: it changes with any word or condition."""
    content = json.dumps([danger_signs, rules], sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(content.encode()).hexdigest()


def current_mark() -> str:
    return mark(kept()["danger_signs"], kept()["rules"])


def standing(agreed: str | None) -> str:
    """Whether the rules are as they were when somebody agreed: "agreed", "changed" since, or "never" agreed to."""
    return "never" if agreed is None else "agreed" if agreed == current_mark() else "changed"


def changed(before: Mapping[str, Any]) -> list[str]:
    """Ids of rules that are not as they were in `before` (danger_signs, rules), new ones and dropped ones too."""
    then, now = ({rule["id"]: rule for rule in rules} for rules in (before["rules"], kept()["rules"]))
    return [id_ for id_ in {**now, **then} if then.get(id_) != now.get(id_)]


def to_json(rule: Rule) -> Rule:
    """A rule in the words a physician reads: what sets it off, what the wearer is told, and where it is from."""
    words = rule["text"]["en"]
    return {
        "id": rule["id"],
        "level": rule["level"],
        "when": when_words(rule["when"]),
        "title": words["title"],
        "do": words["do"],
        "do_of": words.get("do_of"),
        "source": rule.get("source"),
        "status": rule.get("status"),
    }


def when_words(condition: Mapping[str, Any]) -> str:
    """A condition as a clause: (a, b or c) together with d. One that is not known here is shown as it stands."""
    ((name, value),) = condition.items()
    if name in ("any", "all"):
        parts = [when_words(inner) for inner in value]
        parts = [f"({part})" if len(inner) == 1 and set(inner) & {"any", "all"} else part
                 for part, inner in zip(parts, value, strict=True)]  # fmt: skip
        return parts[0] if len(parts) == 1 else (" or " if name == "any" else " together with ").join(parts)
    plain = str(value).replace("_", " ")
    match name:
        case "finding":
            return f"skin: {plain}"
        case "sign":
            return plain
        case "profile":
            return f"profile: {plain}"
        case "child":
            return "under 18 years" if value else "18 years or older"
        case "redness_over":
            half = "half of it with reduced sensation, diabetes or vascular disease"
            clinics = f"redness longer than the clinic's limit ({half})"
            return clinics if value == "clinic" else f"redness over {value} minutes"
        case "weight_gain":
            days = "1 day" if value["days"] == 1 else f"{value['days']} days"
            return f"{value['kg']:g} kg gained in {days}"
        case "pain_at_least":
            return f"pain {value} or more of 10"
        case "comfort_at_most":
            return f"comfort {value} or less of 10"
        case "falls_at_least":
            return "a fall" if value == 1 else f"{value} falls or more"
    return f"{name.replace('_', ' ')}: {json.dumps(value)}"
