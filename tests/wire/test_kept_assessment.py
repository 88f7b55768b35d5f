"""What is kept of an assessment is the assessment, to the last digit."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from datetime import date

import pytest

from plytide.model import (
    Assessment,
    BestCast,
    DateEstimate,
    Estimate,
    Growth,
    Outlook,
    Reason,
    Recast,
    RunsOut,
    Sentence,
    Signal,
    TapeHeard,
)
from plytide.wire.kept_assessment import OtherShape, from_text, to_text

DAY = date(2025, 9, 15)
ONE = Estimate(1 / 3, -2 / 7, 0.1 + 0.2)
EMPTY = Assessment("a", DAY, 0, None, None, None, None, "gathering", None, None, (), (), ())
FULL = Assessment(
    limb_id="a",
    as_of=DAY,
    checkins_used=3,
    change_pct=ONE,
    change_28d_pct=ONE,
    coming_28d_pct=ONE,
    daily_swing_pct=ONE,
    state="settling",
    since=DAY,
    settles_on=DateEstimate(DAY, DAY, None),
    reasons=(Reason("code", "words"),),
    outlook=(Outlook(21, ONE),),
    signals=(
        Signal("skin", "urgent", DAY, "Because.", ("x", "y"), "blister"),
        Signal(
            "silent",
            "note",
            DAY,
            "Because.",
            sentences=(
                Sentence("quiet", (("days", 9), ("last", DAY), ("kg", 1.5), ("what", "code"), ("of", ("a", "b")))),
            ),
        ),
    ),
    band=((DAY, ONE), (DAY, ONE)),
    limb_change_pct=ONE,
    reference_on=DAY,
    limb_band=((DAY, ONE),),
    tapes=(TapeHeard("m", DAY, None, None, 2 / 3, True, 1e-17),),
    dialysis_swing_pct=ONE,
    growth=Growth(ONE, RunsOut(None, DAY, DAY)),
    lacks=(Reason("code", "words"),),
    reading_tags=("child",),
    recast=Recast(365, 1.4, ONE, ONE, ONE, BestCast(DAY, DAY, DAY, ONE), 90),
)


@pytest.mark.parametrize("found", [EMPTY, FULL, replace(FULL, growth=Growth(ONE, None))])
def test_it_comes_back_as_it_was(found: Assessment) -> None:
    assert from_text(to_text(found)) == found


def test_every_field_was_filled_in_here() -> None:
    assert [one.name for one in fields(FULL) if getattr(FULL, one.name) in (None, (), "")] == []


@pytest.mark.parametrize("change", [{"new": 1}, {"state": None, "limb_id": ...}])
def test_what_has_other_fields_is_not_guessed_at(change: dict[str, object]) -> None:
    kept = json.loads(to_text(FULL))
    for name, value in change.items():
        kept[name] = value
        if value is ...:
            del kept[name]
    with pytest.raises(OtherShape):
        from_text(json.dumps(kept))
