"""A replay: many dates of one history answered at once are what each date alone, knowing no later, would answer."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plytide.model import LIMB_TAGS
from seed_demo.cohort import Knobs, cohort, contract_lines
from tests.wire.test_history import HISTORY
from tests.work.test_assess_lines import CHECKINS, answers

FIRST, LAST = date(2026, 5, 1), date(2026, 9, 1)


def days(first: date, last: date) -> st.SearchStrategy[str]:
    return st.dates(first, last).map(date.isoformat)


def known_on(history: dict[str, Any], day: str) -> dict[str, Any]:
    """The history as it stood at the end of a day, asked for that day alone."""
    return {
        **history,
        "as_of": day,
        "sockets": [one for one in history["sockets"] if one["fitted_on"] <= day],
        "checkins": [one for one in history["checkins"] if one["date"] <= day],
        "pads": [one for one in history.get("pads", []) if one["on"] <= day],
        "measurements": [one for one in history.get("measurements", []) if one["on"] <= day],
    }


def agrees(history: dict[str, Any]) -> None:
    status, together = answers(history)
    assert status == 0
    for day, line in zip(history["as_of"], together, strict=True):
        assert answers(known_on(history, day)) == (0, [line])


PADS = st.fixed_dictionaries(
    {"socket_id": st.just("s1"), "on": days(FIRST, LAST), "thickness_mm": st.floats(0.1, 30)},
)
LEVELS = st.fixed_dictionaries({"from_end_mm": st.sampled_from([0, 40, 80]), "circumference_mm": st.floats(30, 1500)})
MEASUREMENTS = st.fixed_dictionaries(
    {
        "on": days(date(2026, 4, 1), LAST),
        "levels": st.lists(LEVELS, min_size=1, max_size=3),
        "weight_kg": st.none() | st.floats(2, 400),
    }
)


@settings(max_examples=30, deadline=None)
@given(data=st.data())
def test_what_came_later_never_changes_what_was_said(data: st.DataObject) -> None:
    """Random logs with corrections, second sockets, pads and tape: sparse, so that every edge is met."""
    checkins = [{"id": f"c{n}", **one} for n, one in enumerate(data.draw(CHECKINS))]
    for n, one in enumerate(checkins):
        if n and data.draw(st.integers(0, 3)) == 0:
            one["replaces"] = f"c{data.draw(st.integers(0, n - 1))}"
            one["withdrawn"] = data.draw(st.booleans())
    sockets = list(HISTORY["sockets"])
    if second := data.draw(st.none() | days(FIRST, LAST)):
        sockets.append({"id": "s2", "fitted_on": second, "purpose": "definitive", "stack_at_fitting": [{"ply": 5}]})
    agrees(
        {
            "limb": {
                "id": "h",
                "reference_circumference_mm": 300,
                "born_on": data.draw(st.sampled_from([None, "1960-01-01", "2018-01-01"])),
                "tags": data.draw(st.lists(st.sampled_from(LIMB_TAGS), max_size=3)),
            },
            "sockets": sockets,
            "pads": data.draw(st.lists(PADS, max_size=2)),
            "measurements": data.draw(st.lists(MEASUREMENTS, max_size=3)),
            "checkins": checkins,
            "as_of": data.draw(st.lists(days(FIRST, date(2026, 12, 31)), min_size=1, max_size=4)),
        }
    )


def test_socks_of_unknown_make_worn_later_do_not_widen_what_was_said_before() -> None:
    checkins = [
        {
            "id": f"c{n}",
            "date": (FIRST + timedelta(days=n)).isoformat(),
            "stack": [{"ply": 3 if n < 15 else 5, "make": "single" if n < 30 else "unknown"}],
            "comfort": 7,
        }
        for n in range(40)
    ]
    as_of = [(FIRST + timedelta(days=n)).isoformat() for n in (25, 39)]
    agrees({**HISTORY, "pads": [], "checkins": checkins, "as_of": as_of})


@pytest.mark.parametrize("seed", [1, 2])
def test_a_replay_of_limbs_as_they_are_agrees_too(seed: int) -> None:
    """Dense logs, with trends, steps and alarms."""
    for line in contract_lines(cohort(8, seed, Knobs(days=100))):
        history: dict[str, Any] = dict(line)
        first = date.fromisoformat(history["sockets"][0]["fitted_on"])
        agrees({**history, "as_of": [(first + timedelta(days=n)).isoformat() for n in (3, 17, 41, 64, 99)]})
