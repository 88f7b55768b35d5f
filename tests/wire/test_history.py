"""A line of history: what it means, and what is wrong with a bad one, by field."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from plytide.model import Assessment, Estimate
from plytide.wire.history import HistoryError, assessment_to_json, read, read_line

CHECKIN = {
    "id": "c1", "date": "2026-05-02", "time": "07:40", "offset": "+02:00", "moment": "putting_on",
    "stack": [{"ply": 3, "make": "single"}, {"ply": 1, "make": "single"}],
    "fit": "good", "comfort": 7, "skin": [], "hours_worn": None, "weight_kg": None, "prefilled": False,
    "replaces": None,
}  # fmt: skip
HISTORY: dict[str, Any] = {
    "limb": {
        "id": "a1", "side": "left", "level": "transtibial", "amputated_on": "2026-03-01",
        "reference_circumference_mm": 300, "born_on": None, "tags": ["dialysis"],
    },
    "sockets": [
        {
            "id": "s1", "fitted_on": "2026-05-01", "purpose": "diagnostic",
            "stack_at_fitting": [{"ply": 1, "make": "single"}], "weight_limit_kg": 125,
        }
    ],
    "pads": [{"socket_id": "s1", "on": "2026-06-02", "thickness_mm": 1.5}],
    "measurements": [{"on": "2026-05-01", "levels": [{"from_end_mm": 0, "circumference_mm": 240}]}],
    "checkins": [CHECKIN],
}  # fmt: skip


def test_a_line_with_everything_in_it_is_read() -> None:
    history, dates = read(HISTORY)
    assert dates is None
    assert (history.limb.id, history.limb.amputated_on, history.limb.tags) == ("a1", date(2026, 3, 1), ("dialysis",))
    assert history.checkins[0].offset == 120
    assert [(sock.ply, sock.make) for sock in history.checkins[0].stack] == [(3, "single"), (1, "single")]
    assert history.sockets[0].stack_at_fitting[0].ply == 1
    assert (history.pads[0].thickness_mm, history.measurements[0].levels[0].circumference_mm) == (1.5, 240)


@pytest.mark.parametrize(
    ("as_of", "dates"),
    [("2026-06-01", [date(2026, 6, 1)]), (["2026-06-01", "2026-05-20"], [date(2026, 6, 1), date(2026, 5, 20)])],
)
def test_a_line_may_ask_for_dates(as_of: Any, dates: list[date]) -> None:
    assert read({**HISTORY, "as_of": as_of})[1] == dates


def set_at(path: str, value: Any) -> Callable[[dict[str, Any]], None]:
    """Change one place of a history, such as "checkins.0.comfort"."""

    def change(history: dict[str, Any]) -> None:
        *parents, last = path.split(".")
        place: Any = history
        for step in parents:
            place = place[int(step) if step.isdigit() else step]
        place[int(last) if last.isdigit() else last] = value

    return change


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (set_at("checkins.0.date", "2026-02-28"), "checkins[0].date"),  # before the amputation
        (set_at("checkins.0.date", "2026-04-30"), "checkins[0].date"),  # before any socket
        (set_at("sockets", []), "sockets"),
        (set_at("sockets.0.fitted_on", "2026-02-01"), "sockets[0].fitted_on"),
        (set_at("limb.reference_circumference_mm", 0), "limb.reference_circumference_mm"),
        (set_at("limb.reference_circumference_mm", "300"), "limb.reference_circumference_mm"),
        (set_at("limb.level", "arm"), "limb.level"),
        (set_at("limb.shoe", 43), "limb.shoe"),
        (set_at("limb.born_on", "2026-03-02"), "limb.amputated_on"),
        (set_at("limb", {"id": "a1", "born_on": "2026-05-02"}), "sockets[0].fitted_on"),
        (set_at("measurements.0.on", "2026-02-28"), "measurements[0].on"),
        (set_at("pads.0.on", "2026-04-30"), "pads[0].on"),
        (set_at("checkins.0.limb_id", "a2"), "checkins[0].limb_id"),
        (set_at("checkins.0.date", "9999-12-31"), "checkins[0].date"),
        (set_at("as_of", "9999-12-31"), "as_of"),
        (set_at("limb.amputated_on", "March"), "limb.amputated_on"),
        (set_at("checkins.0.skin", [{"place": "shin", "finding": "sad"}]), "checkins[0].skin[0].finding"),
        (set_at("checkins.0.comfort", 11), "checkins[0].comfort"),
        (set_at("checkins.0.comfort", None), "checkins[0].comfort"),
        (set_at("checkins.0.stack.0.ply", 4), "checkins[0].stack[0].ply"),
        (set_at("checkins.0.moment", "noon"), "checkins[0].moment"),
        (set_at("checkins.0.mood", "fine"), "checkins[0].mood"),
        (set_at("checkins.0.weight_kg", float("inf")), "checkins[0].weight_kg"),
        (set_at("checkins.0", 7), "checkins[0]"),
        (set_at("checkins", {}), "checkins"),
        (set_at("checkins", [CHECKIN, {**CHECKIN, "comfort": 2}]), "checkins[1].id"),
        (set_at("checkins", [{**CHECKIN, "id": f"c{n}"} for n in range(5000)]), "checkins"),
        (set_at("pads.0.socket_id", "s9"), "pads[0].socket_id"),
        (set_at("measurements.0.levels.0.circumference_mm", -1), "measurements[0].levels[0].circumference_mm"),
        (set_at("as_of", "soon"), "as_of"),
        (set_at("as_of", ["2026-06-01", 7]), "as_of[1]"),
        (set_at("as_of", []), "as_of"),
        (set_at("extra", 1), "extra"),
        (lambda history: history.pop("limb"), "limb"),
    ],
)
def test_what_is_wrong_is_named(change: Callable[[dict[str, Any]], None], field: str) -> None:
    history = copy.deepcopy(HISTORY)
    change(history)
    with pytest.raises(HistoryError) as error:
        read(history)
    assert error.value.field == field
    assert error.value.message.endswith(".")
    assert error.value.limb_id == (None if field == "limb" else "a1")


@pytest.mark.parametrize(
    ("day", "words"), [("2026-02-28", "before the amputation"), ("2026-04-30", "before any socket")]
)
def test_a_date_too_early_says_before_what(day: str, words: str) -> None:
    with pytest.raises(HistoryError, match=words):
        read({**HISTORY, "checkins": [{**CHECKIN, "date": day}]})


@pytest.mark.parametrize("line", ["", "{", "NaN", '{"limb": NaN}', "[1,2]", "7", "null", '"x"', "[" * 2000])
def test_a_line_that_is_no_history_is_an_error_not_a_crash(line: str) -> None:
    with pytest.raises(HistoryError):
        read_line(line)


@pytest.mark.parametrize(
    ("number", "field"),
    [
        ("NaN", "limb.reference_circumference_mm"),
        ("1e999", "checkins[0].weight_kg"),
        ("9" * 5000, "checkins[0].comfort"),
    ],
)
def test_a_number_no_json_writer_should_make_is_named_by_its_field(number: str, field: str) -> None:
    history = copy.deepcopy(HISTORY)
    place = history["limb"] if field.startswith("limb") else history["checkins"][0]
    place[field.split(".")[-1]] = "HERE"
    with pytest.raises(HistoryError) as error:
        read_line(json.dumps(history).replace('"HERE"', number))
    assert (error.value.limb_id, error.value.field) == ("a1", field)


def test_the_day_of_the_fitting_and_of_the_amputation_are_not_before_it() -> None:
    """A leg may be fitted on the day of the operation, and the first check-in written on the day of the fitting."""
    history = copy.deepcopy(HISTORY)
    for place, field in ((history["limb"], "amputated_on"), (history["checkins"][0], "date")):
        place[field] = "2026-05-01"
    history["pads"][0]["on"] = "2026-05-01"
    assert read(history)[0].checkins[0].date == date(2026, 5, 1)


def test_a_byte_order_mark_is_not_a_fault() -> None:
    assert read_line(b"\xef\xbb\xbf" + json.dumps(HISTORY).encode())[0].limb.id == "a1"


@pytest.mark.parametrize("line", [b"\xff\xfe", b'{"limb": {"id": "\xe9"}}'])
def test_a_line_that_is_not_utf_8_is_one_bad_line(line: bytes) -> None:
    with pytest.raises(HistoryError):
        read_line(line)


def test_half_a_character_in_a_name_can_be_answered() -> None:
    for line in ('{"limb": {"id": "\\ud800"}}', '{"limb": {"id": "a"}, "\\ud800": 1}'):
        with pytest.raises(HistoryError) as error:
            read_line(line)
        json.dumps([error.value.limb_id, error.value.field], ensure_ascii=False).encode()


def test_the_same_checkin_twice_is_one() -> None:
    assert len(read({**HISTORY, "checkins": [CHECKIN, CHECKIN]})[0].checkins) == 1


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_nan_and_infinity_are_never_written(value: float) -> None:
    found = Assessment(
        "a1", date(2026, 5, 2), 1, Estimate(value, 0, 0), None, None, None, "gathering", None, None, (), (), ()
    )
    with pytest.raises(ValueError, match="NaN or infinity"):
        assessment_to_json(found)


def test_minus_zero_is_zero() -> None:
    found = Assessment(
        "a1", date(2026, 5, 2), 1, Estimate(-0.0001, -1, 1), None, None, None, "gathering", None, None, (), (), ()
    )
    assert json.dumps(assessment_to_json(found)["volume"]["change_pct"]["value"]) == "0.0"
