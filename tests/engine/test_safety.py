"""The fixed rules, at their edges. The table is shared with the phone's evaluator (published/safety-vectors.json)."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from plytide.engine.rules import kept
from plytide.engine.safety import ALARM_FINDINGS, LEVELS, advice_for, advice_of, danger_signs, rules
from plytide.model import ADULT_YEARS, FINDINGS, SIGNS, CheckIn, Limb, SkinFinding, Sock

VECTORS: list[dict[str, Any]] = json.loads(
    (Path(__file__).parents[1] / "published" / "safety-vectors.json").read_text()
)["cases"]
DAY = date(2025, 6, 10)


def checkin(given: dict[str, Any], ago: int = 0) -> CheckIn:
    return CheckIn(
        id=f"c{ago}",
        limb_id="a",
        date=DAY - timedelta(days=ago),
        stack=(Sock(3, "single"),),
        comfort=given.get("comfort", 8),
        pain=given.get("pain"),
        falls=given.get("falls"),
        skin=tuple(
            SkinFinding(each.get("place", "shin"), each["finding"], each.get("redness_minutes"))
            for each in given.get("skin", ())
        ),
        signs=tuple(given.get("signs", ())),
        weight_kg=given.get("weight_kg"),
        tags=tuple(given.get("tags", ())),
    )


@pytest.mark.parametrize("case", VECTORS, ids=lambda case: case["name"])
def test_rules_fire_as_written_down(case: dict[str, Any]) -> None:
    person = case.get("person", {})
    born = date.fromisoformat(person["born_on"]) if person.get("born_on") else None
    limb = Limb("a", born_on=born, tags=tuple(person.get("tags", ())))
    earlier = [checkin(each, each["days_ago"]) for each in case.get("earlier", ())]
    fired = advice_for(checkin(case["checkin"]), limb, earlier, redness_minutes=case.get("redness_minutes", 20))
    assert [advice.rule for advice in fired] == case["expect"]


def test_every_rule_is_fired_by_some_case() -> None:
    assert {rule["id"] for rule in rules()} == {rule for case in VECTORS for rule in case["expect"]}


def test_every_alarm_finding_stops_wear() -> None:
    """Open skin, blister, discharge, spreading redness, new colour or numbness."""
    for finding in FINDINGS:
        fired = advice_for(checkin({"skin": [{"finding": finding}]}), Limb("a"))
        assert any(advice.level == "stop_wear" for advice in fired) is (finding in ALARM_FINDINGS)


def test_a_weight_written_later_is_no_weight_before() -> None:
    heart = Limb("a", tags=("heart_failure",))
    later = replace(checkin({"weight_kg": 60}), id="later", date=DAY + timedelta(days=1))
    assert advice_for(checkin({"weight_kg": 70}), heart, [later]) == ()


def test_rules_stand_in_order_of_urgency_with_words_and_a_source() -> None:
    levels = [LEVELS.index(rule["level"]) for rule in rules()]
    assert levels == sorted(levels)
    for rule in kept()["rules"]:
        assert rule["text"]["en"]["title"] and rule["text"]["en"]["do"]
        assert rule["source"] and rule["status"] in ("confirmed", "common practice", "from memory", "judgement")


def named(when: Any, key: str) -> set[str]:
    """All values of a condition's key, however deep."""
    if isinstance(when, list):
        return {value for inner in when for value in named(inner, key)}
    if isinstance(when, dict):
        own = {when[key]} if isinstance(when.get(key), str) else set()
        return own | {value for inner in when.values() for value in named(inner, key)}
    return set()


def test_rules_name_only_findings_and_signs_the_phone_can_send() -> None:
    for rule in rules():
        assert named(rule["when"], "finding") <= set(FINDINGS)
        assert named(rule["when"], "sign") <= set(SIGNS)


def test_every_danger_a_rule_reads_is_asked_first_but_for_fit_and_growth() -> None:
    asked = danger_signs()
    assert len(set(asked)) == len(asked) and set(asked) <= set(SIGNS)
    read = {sign for rule in rules() for sign in named(rule["when"], "sign")}
    assert read - set(asked) == {"cannot_get_fully_in", "bony_point", "stretched_skin"}


def test_no_rule_tells_anybody_to_change_a_socket_or_names_an_illness() -> None:
    for rule in rules():
        text = f"{rule['text']['en']['title']} {rule['text']['en']['do']}".lower()
        for word in ("new socket", "recast", "sepsis", "infection", "gangrene", "stable"):
            assert word not in text


def syllables(word: str) -> int:
    """Groups of vowels, without a silent e: the usual rough count."""
    groups = len(re.findall(r"[aeiouy]+", word))
    return max(1, groups - (word.endswith("e") and not word.endswith(("le", "ee")) and groups > 1))


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: rule["id"])
def test_words_can_be_read_at_grade_six(rule: dict[str, Any]) -> None:
    """Flesch-Kincaid grade; patient words no higher than grade 6 (Badarudeen & Sabharwal 2010, confirmed)."""
    for name in (None, "Isla"):
        advice = advice_of(rule, name=name)
        text = f"{advice.title}. {advice.do}"
        words = re.findall(r"[a-z]+", text.lower())
        sentences = [each for each in re.split(r"[.!?]", text) if each.strip()]
        grade = 0.39 * len(words) / len(sentences) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59
        assert grade <= 6


def test_the_phone_takes_for_a_child_whom_the_server_does() -> None:
    root = Path(__file__).resolve().parents[2]
    assert f"CHILD_DAYS = {ADULT_YEARS} * 365.25;" in (root / "web" / "shared" / "safety.js").read_text()
    elsewhere = [*(root / "server").rglob("*.py"), *(root / "web").rglob("*.js")]
    said = [path.name for path in elsewhere if "365.25" in path.read_text(encoding="utf-8")]
    assert sorted(said) == ["model.py", "safety.js"]
