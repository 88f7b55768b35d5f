"""`plytide assess`: a line per limb and date, in order, whatever one bad line holds."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plytide.model import FINDINGS, FITS, MAKES, MOMENTS, PLIES, SIGNS, STATES, TAGS
from plytide.work import assess_lines
from plytide.work.assess_lines import run
from tests.wire.test_history import CHECKIN, HISTORY


def answers(*lines: Any, as_of: date | None = None) -> tuple[int, list[dict[str, Any]]]:
    out = io.StringIO()
    status = run([line if isinstance(line, str) else json.dumps(line) for line in lines], out, as_of)
    return status, [json.loads(line, parse_constant=_no_constant) for line in out.getvalue().splitlines()]


def _no_constant(name: str) -> None:
    raise AssertionError(f"{name} in output")


def limb(name: str, **more: Any) -> dict[str, Any]:
    return {**HISTORY, "limb": {**HISTORY["limb"], "id": name}, **more}


def test_bad_lines_are_answered_in_their_place() -> None:
    status, said = answers(limb("a"), limb("b", surprise=1), "{", limb("c", as_of=["2026-05-02", "2026-06-01"]))
    assert status == 1
    assert [line["limb_id"] for line in said] == ["a", "b", None, "c", "c"]
    assert said[1]["error"]["field"] == "surprise"
    assert [line.get("as_of") for line in said] == ["2026-05-02", None, None, "2026-05-02", "2026-06-01"]


def test_as_of_overrides_and_blank_lines_are_passed_over() -> None:
    status, said = answers(limb("a", as_of="2026-07-01"), "", "\n", as_of=date(2026, 5, 20))
    assert (status, [line["as_of"] for line in said]) == (0, ["2026-05-20"])


def test_the_answer_has_the_contracts_shape() -> None:
    said = answers(limb("a"))[1][0]
    assert set(said) == {
        "limb_id", "as_of", "checkins_used", "volume", "readiness", "outlook", "signals",
        "growth", "lacks", "reading_tags", "recast",
    }  # fmt: skip
    assert set(said["volume"]) == {
        *("change_pct", "change_28d_pct", "coming_28d_pct", "daily_swing_pct", "dialysis_swing_pct"),
        *("limb_change_pct", "reference_on"),
    }
    assert said["volume"]["reference_on"] == "2026-05-01"
    assert set(said["readiness"]) == {"state", "since", "settles_on", "reasons"}
    assert said["readiness"]["state"] == "gathering" and said["readiness"]["reasons"]


def test_the_command_reads_a_file_or_standard_input(tmp_path: Path) -> None:
    file = tmp_path / "limbs.ndjson"
    file.write_bytes(json.dumps(limb("a")).encode() + b"\n\xff\n")
    command = [sys.executable, "-m", "plytide.cli", "assess"]
    from_file = subprocess.run([*command, str(file)], capture_output=True, text=True, timeout=300)
    with file.open() as lines:
        from_stdin = subprocess.run([*command, "-"], stdin=lines, capture_output=True, text=True, timeout=300)
    assert from_file.stdout == from_stdin.stdout
    assert (from_file.returncode, len(from_file.stdout.splitlines()), from_file.stderr) == (1, 2, "")
    missing = subprocess.run([*command, str(tmp_path / "no")], capture_output=True, text=True, timeout=300)
    assert missing.returncode == 2 and "no file" in missing.stderr


SOCK = st.fixed_dictionaries({"ply": st.sampled_from(PLIES), "make": st.sampled_from(MAKES)})
SKIN = st.fixed_dictionaries(
    {
        "place": st.just("shin"),
        "finding": st.sampled_from(FINDINGS),
        "redness_minutes": st.none() | st.integers(0, 1440),
    }
)
CHECKINS = st.lists(
    st.fixed_dictionaries(
        {
            "date": st.dates(date(2026, 5, 1), date(2026, 9, 1)).map(date.isoformat),
            "moment": st.sampled_from(MOMENTS),
            "stack": st.lists(SOCK, max_size=12),
            "fit": st.none() | st.sampled_from(FITS),
            "comfort": st.integers(0, 10),
            "skin": st.lists(SKIN, max_size=3),
            "signs": st.lists(st.sampled_from(SIGNS), max_size=3),
            "hours_worn": st.none() | st.floats(0, 24),
            "weight_kg": st.none() | st.floats(2, 400),
            "falls": st.none() | st.integers(0, 20),
            "tags": st.lists(st.sampled_from(TAGS), max_size=3),
            "prefilled": st.booleans(),
        }
    ),
    max_size=40,
)


@settings(max_examples=60, deadline=None)
@given(
    checkins=CHECKINS,
    circumference=st.none() | st.integers(60, 1200),
    born_on=st.none() | st.dates(date(1930, 1, 1), date(2025, 1, 1)).map(date.isoformat),
    amputated_on=st.none() | st.dates(date(1950, 1, 1), date(2026, 4, 1)).map(date.isoformat),
    tags=st.lists(st.sampled_from(["dialysis", "diabetes", "pregnancy"]), max_size=2),
    as_of=st.lists(st.dates(date(2026, 4, 1), date(2026, 12, 31)).map(date.isoformat), min_size=1, max_size=4),
)
def test_no_history_breaks_the_engine(
    checkins: list[dict[str, Any]],
    circumference: int | None,
    born_on: str | None,
    amputated_on: str | None,
    tags: list[str],
    as_of: list[str],
) -> None:
    """No exception, no warning (warnings are errors here), no NaN, no infinity; intervals hold their value."""
    born_on = min(born_on, amputated_on or born_on) if born_on else None
    history = {
        "limb": {
            "id": "h",
            "reference_circumference_mm": circumference,
            "born_on": born_on,
            "amputated_on": amputated_on,
            "tags": tags,
        },
        "sockets": HISTORY["sockets"],
        "checkins": [{"id": f"c{n}", **one} for n, one in enumerate(checkins)],
        "as_of": as_of,
    }
    status, said = answers(history)
    assert (status, [line["as_of"] for line in said]) == (0, as_of)
    for line in said:
        assert line["readiness"]["state"] in STATES
        volume = [each for name, each in line["volume"].items() if name != "reference_on"]
        for estimate in [*volume, *(one["if_cast_today_mm"] for one in line["outlook"])]:
            assert estimate is None or estimate["low"] <= estimate["value"] <= estimate["high"]
        if fit := line["recast"]:
            assert (
                fit["best"]["low"] <= fit["best"]["date"] <= fit["best"]["high"]
                and fit["best"]["date"] >= line["as_of"]
            )
            for name in ("now", "in_21_days", "now_and_in_21_days", "best"):
                days = fit[name]["good_days"]
                assert 0 <= days["low"] <= days["value"] <= days["high"] <= fit["horizon_days"]
        assert (line["recast"] is None) == (line["volume"]["coming_28d_pct"] is None)


def test_the_order_of_checkins_in_the_file_does_not_matter() -> None:
    checkins = [{**CHECKIN, "id": f"c{n}", "date": f"2026-05-{n + 2:02}", "comfort": n % 10} for n in range(25)]
    assert answers(limb("a", checkins=checkins)) == answers(limb("a", checkins=checkins[::-1]))


def test_a_large_file_is_spread_over_processes_and_answers_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(assess_lines, "BATCH", 3)
    lines = [json.dumps(limb(f"a{n}", **({"surprise": 1} if n == 7 else {}))) for n in range(20)]
    alone, spread = io.StringIO(), io.StringIO()
    assert (run(lines, alone, workers=1), run(lines, spread, workers=2)) == (1, 1)
    assert spread.getvalue() == alone.getvalue()
    assert [json.loads(line)["limb_id"] for line in alone.getvalue().splitlines()] == [f"a{n}" for n in range(20)]
