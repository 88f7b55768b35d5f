"""The one-pass reader against the schema that has the words: where it answers at all, they say the same."""

from __future__ import annotations

import copy
from typing import Any

import orjson
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plytide import model
from plytide.wire import checkin as wire
from plytide.wire.checkin import plain

FULL: dict[str, Any] = {
    "id": "c1", "date": "2026-05-02", "time": "07:40", "offset": "-03:30", "moment": "end_of_day",
    "stack": [{"ply": 3, "make": "single"}, {"ply": 0}], "fit": "loose", "signs": ["slips_up_and_down"], "comfort": 0,
    "pain": 0, "skin": [{"place": "shin", "finding": "redness", "redness_minutes": 12.5}], "skin_checked": True,
    "signs_checked": True, "hours_worn": 11, "activity": "more", "falls": 0, "weight_kg": 71.5, "tags": ["hot_day"],
    "prefilled": True, "replaces": "c0", "withdrawn": False,
}  # fmt: skip

odd: st.SearchStrategy[Any] = st.one_of(
    st.none(), st.booleans(), st.integers(-3, 30), st.floats(), st.text(max_size=8), st.just([]), st.just({}),
    st.sampled_from(["", "2026-02-30", "20260502", "2026-W18-6", "24:00", "7:40", "+15:00", "+02:00", "c1", "a b"]),
    st.sampled_from(model.SIGNS + model.TAGS + model.FINDINGS + model.MOMENTS + model.FITS + model.ACTIVITIES),
)  # fmt: skip


def in_full(raw: Any) -> model.CheckIn | None:
    try:
        item = wire.check({**raw, "limb_id": "a"} if isinstance(raw, dict) else raw)
    except wire.Refused:
        return None
    return wire.noun(0, item["id"], "a", wire.body_of(item), None)


@st.composite
def damaged(draw: st.DrawFn) -> Any:
    """A right check-in with up to three of its places left out, changed or added."""
    raw = copy.deepcopy(FULL)
    for _ in range(draw(st.integers(0, 3))):
        place = draw(st.sampled_from(["top", "stack", "skin", "signs", "tags"]))
        inner: Any = raw if place == "top" else raw.get(place)
        if isinstance(inner, list) and inner and isinstance(inner[0], dict):
            inner = inner[draw(st.integers(0, len(inner) - 1))]
        if isinstance(inner, dict):
            name = draw(st.sampled_from([*FULL, "ply", "make", "finding", "place", "redness_minutes", "note"]))
            if draw(st.booleans()):
                inner.pop(name, None)
            else:
                inner[name] = draw(odd)
        elif isinstance(inner, list):
            inner.append(draw(odd))
    return raw


@settings(max_examples=400, deadline=None)
@given(raw=damaged())
def test_what_it_reads_the_schema_reads_alike(raw: Any) -> None:
    quick = plain(raw, "a")
    if quick is not None:
        assert quick == in_full(raw)


def test_a_whole_right_checkin_is_read_in_one_pass() -> None:
    """Else the speed it is there for would be lost without a word."""
    assert plain(FULL, "a") == in_full(FULL)
    for name in FULL.keys() - {"id", "date", "stack", "comfort"}:
        assert plain({key: value for key, value in FULL.items() if key != name}, "a") is not None
    assert plain(orjson.loads(orjson.dumps(FULL)), "a") is not None


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("comfort", 11), ("comfort", -1), ("comfort", 7.0), ("comfort", True), ("pain", 11), ("falls", 21),
        ("falls", -1),
        ("hours_worn", 24.5), ("hours_worn", -0.1), ("hours_worn", float("nan")), ("weight_kg", 1.9),
        ("weight_kg", 401), ("date", "1899-12-31"), ("date", "2026-02-30"), ("date", "20260502"), ("time", "24:00"),
        ("offset", "+15:00"), ("id", "a b"), ("id", ""), ("replaces", ""), ("moment", None), ("fit", "loos"),
        ("stack", [{"ply": 4}]), ("stack", [{"ply": True}]), ("stack", [{"ply": 1, "mm": 2}]), ("stack", [{}] * 13),
        ("skin", [{"place": "shin", "finding": "sad"}]), ("skin", [{"place": " ", "finding": "rash"}]),
        ("skin", [{"place": "shin", "finding": "rash", "redness_minutes": 1441}]), ("skin", None),
        ("signs", ["sad"]), ("tags", "hot_day"), ("skin_checked", None), ("signs_checked", 1), ("prefilled", 1),
        ("withdrawn", "no"),
    ],
)  # fmt: skip
def test_what_is_past_the_edge_is_refused_by_both(field: str, value: Any) -> None:
    raw = {**FULL, field: value}
    assert plain(raw, "a") is None
    assert in_full(raw) is None


@pytest.mark.parametrize("raw", [None, 7, [], "c1", {}, {**FULL, "mood": "fine"}, {**FULL, "date": ["2026-05-02"]}])
def test_what_it_cant_vouch_for_it_leaves_to_the_schema(raw: Any) -> None:
    assert plain(raw, "a") is None
