"""CSV by RFC 4180, safe to open in a spreadsheet, and read back as it was written."""

from __future__ import annotations

import csv
import io
import json
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plytide.export.csv_files import COLUMNS, checkins, guarded
from tests.actors import Cast
from tests.conftest import TODAY


def row(note: str | None, **said: Any) -> dict[str, Any]:
    body = {"date": "2025-09-15", "stack": [{"ply": 3, "make": "single"}], "comfort": 7, "note": note, **said}
    return {
        "seq": 1, "id": "c1", "limb_id": "l1", "body": json.dumps(body), "written_by": "d1",
        "received_at": "2025-09-15T12:00:00+00:00",
    }  # fmt: skip


def read(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))


# OWASP, CSV Injection (owasp.org/www-community/attacks/CSV_Injection): the characters that begin a formula.
ATTACKS = [
    "=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "  =1", "\uff1d1", "\uff0b1", "\uff0d1", "\uff201",
    '=HYPERLINK("https://a.example","x")', "=cmd|' /C calc'!A0", "-2+3+cmd|' /C calc'!A0",
]  # fmt: skip


@pytest.mark.parametrize("attack", ATTACKS)
def test_no_text_runs_as_a_formula_in_a_spreadsheet(attack: str) -> None:
    cell = read(checkins([row(attack)], "spreadsheet"))[0]["note"]
    assert cell == "'" + attack
    assert read(checkins([row(attack)], "analysis"))[0]["note"] == attack


@pytest.mark.parametrize("plain", ["It slipped.", "a=b", "5 - 3", "", "'quoted'", 'ok, then; "fine"'])
def test_plain_text_is_left_as_it_is(plain: str) -> None:
    assert guarded(plain, "spreadsheet") == plain


def test_numbers_stay_numbers() -> None:
    cells = read(checkins([row("x", weight_kg=71.5, pain=0, falls=None)], "spreadsheet"))[0]
    assert (cells["weight_kg"], cells["pain"], cells["falls"], cells["comfort"]) == ("71.5", "0", "", "7")


def test_lines_end_and_quotes_double_as_rfc_4180_says() -> None:
    """RFC 4180 section 2: rules 1 (CRLF), 3 (header), 6 and 7 (quotes)."""
    data = checkins([row('say "no",\nthen go')], "analysis")
    assert data.startswith(b"id,date,time,") and data.endswith(b"\r\n")
    assert b'"say ""no"",\nthen go"' in data
    assert data.count(b"\r\n") == 2
    assert not data.startswith(b"\xef\xbb\xbf") and checkins([], "spreadsheet").startswith(b"\xef\xbb\xbf")


TEXT = st.text(st.characters(blacklist_categories=("Cs",), blacklist_characters="\0"), max_size=200)


@settings(deadline=None)
@given(TEXT, TEXT)
def test_whatever_was_written_is_read_back(note: str, place: str) -> None:
    skin = [{"place": place, "finding": "blister"}]
    for mode in ("analysis", "spreadsheet"):
        cells = read(checkins([row(note, skin=skin)], mode))
        assert len(cells) == 1 and list(cells[0]) == list(COLUMNS)
        assert cells[0]["note"] in ((note,) if mode == "analysis" else (note, "'" + note))
        assert f"{place}: blister" in cells[0]["skin"]


def test_the_route_gives_the_limbs_own_log_as_a_file(cast: Cast) -> None:
    dov = cast.dov
    other = {**dov.checkin(TODAY), "limb_id": dov.limb_ids[1]}
    days = [dov.checkin(date(2025, 9, day), note=f"day {day}") for day in (1, 2, 3)]
    assert dov.sync(*days, other).status_code == 200
    answer = cast.ida.get(f"/api/clinic/limbs/{dov.limb_id}/checkins.csv")
    assert answer.headers.getlist("Content-Type") == ["text/csv; charset=utf-8"]  # the charset once
    assert (
        "attachment" in answer.headers["Content-Disposition"] and "spreadsheet" in answer.headers["Content-Disposition"]
    )
    assert [cells["note"] for cells in read(answer.get_data())] == ["day 1", "day 2", "day 3"]
    wrong = cast.ida.get(f"/api/clinic/limbs/{dov.limb_id}/checkins.csv?for=fun")
    assert wrong.status_code == 422 and list(wrong.get_json()["error"]["fields"]) == ["for"]


def test_how_a_place_heals_is_said_like_the_skin():
    healing = [{"place": "limb_end", "course": "worse"}, {"place": "=calf", "course": "gone"}]
    cells = [read(checkins([row("", healing=healing)], mode))[0]["healing"] for mode in ("spreadsheet", "analysis")]
    assert cells == ["limb_end: worse; =calf: gone"] * 2
    first = read(checkins([row("", healing=healing[1:])], "spreadsheet"))[0]["healing"]
    assert first == "'=calf: gone"
