"""The clinic's own numbers: every one has a range and a source, and a slip is named."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from plytide.engine import thresholds
from plytide.engine.thresholds import DEFAULTS, RANGES, ThresholdFault, Thresholds


def test_defaults_lie_in_their_ranges_and_every_one_has_a_range() -> None:
    assert set(RANGES) == {field.name for field in fields(Thresholds)}
    for name, (low, high) in RANGES.items():
        assert low <= getattr(DEFAULTS, name) <= high


def test_some_are_replaced_and_the_rest_stay() -> None:
    own = Thresholds.from_json({"redness_minutes": 15, "stack_call_ply": 8})
    assert (own.redness_minutes, own.stack_call_ply, own.steady_margin_mm) == (15, 8, 0.7)


@pytest.mark.parametrize(
    ("name", "value"),
    [("redness_minutes", 31), ("redness_minutes", "15"), ("stack_call_ply", 8.5), ("speed", 1), ("comfort_low", True)],
)
def test_a_slip_is_named(name: str, value: Any) -> None:
    with pytest.raises(ThresholdFault) as fault:
        Thresholds.from_json({name: value})
    assert fault.value.field == name


def test_each_default_carries_its_source_or_the_word_judgement() -> None:
    source = Path(thresholds.__file__).read_text()
    body = source[source.index("class Thresholds") : source.index("@classmethod")]
    unsaid, comment = [], ""
    for line in body.splitlines():
        said = line.strip()
        if said.startswith("#"):
            comment += " " + said.lower()
        elif ": " in said and "=" in said:
            if not re.search("judgement|common practice|sanders 2012", comment):
                unsaid.append(said)
            comment = ""
    assert unsaid == ["silent_call_days: int = 10"]  # shares the comment of the line above it


def test_the_margin_says_both_what_it_is_and_what_is_felt() -> None:
    """One thin sock (0.7 mm), and the mean radial error above which sockets were unacceptable (0.25 mm)."""
    here = Path(thresholds.__file__).read_text().split("steady_margin_mm: float")[0]
    page = (Path(__file__).resolve().parents[2] / "web" / "clinic" / "limits.js").read_text()
    for text in (here, page):
        assert "0.25 mm" in text and "Sanders, Severance, Allyn" in text
    assert thresholds.DEFAULTS.steady_margin_mm == 0.7
