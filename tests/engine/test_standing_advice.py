"""What stands on the phone's first page and what holds at the clinic are one rule: the same logs through both."""

from __future__ import annotations

import json
import random
import subprocess
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from plytide.engine.dangers import Dangers
from plytide.model import CheckIn, Limb, SkinFinding
from tests.node import node

WEB = Path(__file__).resolve().parents[2] / "web"
FIRST = date(2025, 9, 1)
DAYS = 9

#: What somebody may say of a day: the entry's parts.
SAID: tuple[dict[str, Any], ...] = (
    {"skin_checked": True, "signs_checked": True},
    {"skin_checked": True, "signs_checked": True},
    {"skin_checked": True, "signs_checked": True},
    {"skin_checked": True},
    {"signs_checked": True},
    {},
    {"skin": [("blister", None)], "skin_checked": True, "signs_checked": True},
    {"skin": [("redness", None)], "skin_checked": True, "signs_checked": True},
    {"skin": [("redness", 45)], "skin_checked": True, "signs_checked": True},
    {"skin": [("callus", None)], "skin_checked": True, "signs_checked": True},
    {"signs": ["cold_pale_limb"], "skin_checked": True, "signs_checked": True},
    {"signs": ["hotter_than_other_side"], "signs_checked": True},
    {"signs": ["fewer_clicks"], "skin_checked": True, "signs_checked": True},
    {"signs": ["bony_point"], "skin_checked": True, "signs_checked": True},
    {"pain": 9, "skin_checked": True, "signs_checked": True},
    {"comfort": 1, "skin_checked": True},
)


def logs() -> list[list[tuple[int, dict[str, Any]]]]:
    """Every pair of sayings with two clear days after it or not, and made-up weeks with up to two entries a day."""
    found = [
        [(0, one), (1, other), *((2 + n, SAID[0]) for n in range(clear))]
        for one in SAID
        for other in SAID
        for clear in (0, 1, 2)
    ]
    dice = random.Random(20250915)
    for _ in range(400):
        days = [day for day in range(DAYS) for _ in range(dice.choice((0, 1, 1, 2)))]
        found.append([(day, dice.choice(SAID)) for day in days])
    return found


def at_the_clinic(log: list[tuple[int, dict[str, Any]]]) -> list[str]:
    said = [
        CheckIn(
            f"c{n}",
            "l",
            FIRST + timedelta(days=day),
            (),
            parts.get("comfort", 8),
            signs=tuple(parts.get("signs", ())),
            pain=parts.get("pain"),
            skin=tuple(SkinFinding("calf", finding, minutes) for finding, minutes in parts.get("skin", ())),
            skin_checked=parts.get("skin_checked", False),
            signs_checked=parts.get("signs_checked", False),
        )
        for n, (day, parts) in enumerate(log)
    ]
    last = FIRST + timedelta(days=DAYS)
    return sorted(str(one.rule) for one in Dangers(Limb("l", born_on=date(1960, 1, 1)), said).on(last, 20.0))


def on_the_phone(cases: list[list[tuple[int, dict[str, Any]]]]) -> list[list[str]]:
    rows = [
        [
            {
                "id": f"c{n}",
                "state": "kept",
                "line": [f"c{n}"],
                "checkin": {
                    "id": f"c{n}",
                    "date": (FIRST + timedelta(days=day)).isoformat(),
                    "comfort": 8,
                    "signs": [],
                    **parts,
                    "skin": [
                        {"place": "calf", "finding": finding, "redness_minutes": minutes}
                        for finding, minutes in parts.get("skin", ())
                    ],
                },
            }
            for n, (day, parts) in enumerate(log)
        ]
        for log in cases
    ]
    script = (
        "import { readFileSync } from 'node:fs';"
        f"import {{ evaluate }} from '{(WEB / 'shared' / 'safety.js').as_uri()}';"
        f"import {{ standingAdvice }} from '{(WEB / 'phone' / 'standing-advice.js').as_uri()}';"
        f"const file = JSON.parse(readFileSync('{WEB / 'shared' / 'safety-rules.json'}'));"
        "const advise = (row) => evaluate(file, row.checkin, { born_on: '1960-01-01' });"
        "const cases = JSON.parse(readFileSync(0));"
        "console.log(JSON.stringify(cases.map((rows) =>"
        " standingAdvice(rows, { advise, danger: file.danger_signs }).map((one) => one.id))));"
    )
    done = subprocess.run(
        [node(), "--input-type=module", "-e", script],
        input=json.dumps(rows),
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    return [sorted(each) for each in json.loads(done.stdout)]


def test_what_stands_on_the_phone_is_what_holds_at_the_clinic() -> None:
    cases = logs()
    told = on_the_phone(cases)
    wrong = [
        (log, phone, clinic) for log, phone in zip(cases, told, strict=True) if phone != (clinic := at_the_clinic(log))
    ]
    assert not wrong, f"{len(wrong)} of {len(cases)}, the first: {wrong[0]}"
    assert sum(map(bool, told)) > 100 and sum(not one for one in told) > 20  # both answers are among them


# A fast gain of weight with a weak heart: entries of the limb, and weights written down with the other one.

WEIGHTS = (None, 80.0, 80.8, 82.0, 84.0)


def test_a_fast_gain_stands_on_the_phone_as_long_as_at_the_clinic() -> None:
    dice = random.Random(20250916)
    cases = []
    for n in range(300):
        days = [
            {"date": (FIRST + timedelta(days=day)).isoformat(), "weight_kg": dice.choice(WEIGHTS),
             "clear": dice.random() < 0.7,
             "dialysis": bool(n % 2) and dice.random() < 0.3, "beside": dice.random() < 0.2}
            for day in range(DAYS)
        ]  # fmt: skip
        cases.append({"tags": ["heart_failure", *(["dialysis"] if n % 2 else [])], "days": days})
    clinic = []
    for case in cases:
        own, beside = [], []
        for n, one in enumerate(case["days"]):
            on, kg = date.fromisoformat(one["date"]), one["weight_kg"]
            if one["beside"]:
                beside += [CheckIn("", "l", on, (), 10, weight_kg=kg)] if kg else []
                continue
            tags = ("dialysis",) if one["dialysis"] else ()
            looked = {"skin_checked": one["clear"], "signs_checked": one["clear"]}
            own.append(CheckIn(f"c{n}", "l", on, (), 8, weight_kg=kg, tags=tags, **looked))
        limb = Limb("l", born_on=date(1960, 1, 1), tags=tuple(case["tags"]))
        last = FIRST + timedelta(days=DAYS)
        clinic.append(sorted(str(one.rule) for one in Dangers(limb, own, None, beside).on(last, 20.0)))
    script = (
        "import { readFileSync } from 'node:fs';"
        f"import {{ evaluate, weightBack }} from '{(WEB / 'shared' / 'safety.js').as_uri()}';"
        f"import {{ standingAdvice }} from '{(WEB / 'phone' / 'standing-advice.js').as_uri()}';"
        f"const file = JSON.parse(readFileSync('{WEB / 'shared' / 'safety-rules.json'}'));"
        "const said = ({ tags, days }) => {"
        " const checkins = days.map((one, n) => one.beside ? { date: one.date, weight_kg: one.weight_kg } :"
        "   { id: `c${n}`, date: one.date,"
        "   weight_kg: one.weight_kg, comfort: 8, signs: [], skin: [], tags: one.dialysis ? ['dialysis'] : [],"
        "   skin_checked: one.clear, signs_checked: one.clear });"
        " const rows = checkins.filter((one) => one.id).map((checkin) => ({ id: checkin.id, state: 'kept',"
        "   line: [checkin.id], checkin }));"
        " const about = { tags, born_on: '1960-01-01', earlier: checkins };"
        " const back = (row) => checkins.some((later) => later.date > row.checkin.date"
        "   && weightBack(later, row.checkin, about));"
        " return standingAdvice(rows, {"
        "   advise: (row) => evaluate(file, row.checkin, about), danger: file.danger_signs, back })"
        "   .map((one) => one.id).sort(); };"
        "console.log(JSON.stringify(JSON.parse(readFileSync(0)).map(said)));"
    )
    done = subprocess.run(
        [node(), "--input-type=module", "-e", script],
        input=json.dumps(cases),
        capture_output=True,
        text=True,
        check=True,
    )
    phone = json.loads(done.stdout)
    assert [(case, a, b) for case, a, b in zip(cases, clinic, phone, strict=True) if a != b] == []
    assert {tuple(one) for one in clinic} == {(), ("heart-team",)}
