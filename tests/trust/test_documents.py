"""The tables of hazards and of ASVS name tests: each of them is there, and each row says something."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HAZARDS_TEXT = (ROOT / "web/shared/HAZARDS.md").read_text()
ASVS_TEXT = (ROOT / "server/plytide/auth/README.md").read_text()
RUNNING = (ROOT / "server/RUNNING.md").read_text()
TEXT = HAZARDS_TEXT + ASVS_TEXT + RUNNING + (ROOT / "DEVELOPERS.md").read_text()


def rows(text: str) -> list[list[str]]:
    lines = [line for line in text.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


HAZARDS, ITEMS = rows(HAZARDS_TEXT), rows(ASVS_TEXT)


@pytest.mark.parametrize("named", sorted(set(re.findall(r"`(tests/[\w/]+\.py::\w+)`", TEXT))))
def test_each_test_that_is_named_is_there(named: str) -> None:
    path, name = named.split("::")
    assert re.search(rf"^def {name}\(", (ROOT / path).read_text(), re.MULTILINE), named


def test_each_hazard_has_a_prevention_and_a_test() -> None:
    assert len(HAZARDS) >= 15
    assert [row[0] for row in HAZARDS if len(row) != 3 or not row[1] or "::" not in row[2]] == []


def test_each_item_has_a_test_or_says_that_it_is_not_met_or_the_operators() -> None:
    assert len(ITEMS) >= 40
    bare = [row[0] for row in ITEMS if len(row) != 4 or not ("::" in row[2] or "*not met" in row[1] or row[3])]
    assert bare == []


def test_every_variable_in_the_documents_is_read_and_every_one_read_is_there() -> None:
    read = set(re.findall(r'"(PLYTIDE_[A-Z_]+)"', (ROOT / "server/plytide/settings.py").read_text()))
    told = set(re.findall(r"PLYTIDE_[A-Z_]+", TEXT))
    assert told <= read | {"PLYTIDE_PASSWORD"} and read <= told
