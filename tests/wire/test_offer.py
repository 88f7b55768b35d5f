"""The one-pass reader of what phones send against the schema that has the words: they never disagree."""

from __future__ import annotations

from typing import Any

import orjson
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plytide.wire import checkin as wire
from plytide.wire import offer
from tests.wire.test_plain_checkin import FULL, damaged, odd

WHOLE: dict[str, Any] = {
    **FULL, "limb_id": "a", "note": "warm day", "written_at": "2026-05-02T05:40:00Z", "zone": "Europe/Berlin",
    "written_by": "phone-1", "photos": ["p1"],
}  # fmt: skip


def by_schema(raw: Any) -> offer.Offer | None:
    try:
        return offer.slow(raw)
    except wire.Refused:
        return None


@settings(max_examples=400, deadline=None)
@given(raw=damaged(), also=st.dictionaries(st.sampled_from(["note", "zone", "photos", "written_by", "limb_id"]), odd))
def test_what_it_takes_the_schema_takes_alike(raw: Any, also: dict[str, Any]) -> None:
    if isinstance(raw, dict):
        raw = {**raw, "limb_id": "a", **also}
    quick = offer.quick(raw)
    if quick is not None:
        assert quick == by_schema(raw)


def test_a_whole_right_checkin_is_taken_in_one_pass() -> None:
    """Else the speed it is there for would be lost without a word."""
    assert offer.quick(WHOLE) == by_schema(WHOLE) is not None
    for name in WHOLE.keys() - {"id", "limb_id", "date", "stack", "comfort"}:
        rest = {key: value for key, value in WHOLE.items() if key != name}
        assert offer.quick(rest) == by_schema(rest) is not None
        if name not in ("signs", "skin", "tags", "photos", "moment", "skin_checked", "prefilled", "withdrawn"):
            assert offer.quick({**WHOLE, name: None}) == by_schema({**WHOLE, name: None}) is not None


@pytest.mark.parametrize("name", ["id", "limb_id", "date", "stack", "comfort"])
def test_what_is_missing_is_left_to_the_schema(name: str) -> None:
    assert offer.quick({key: value for key, value in WHOLE.items() if key != name}) is None


@pytest.mark.parametrize("name", list(WHOLE))
@given(value=odd)
@settings(max_examples=40, deadline=None)
def test_each_field_with_an_odd_value_is_judged_alike(name: str, value: Any) -> None:
    raw = {**WHOLE, name: value}
    quick = offer.quick(raw)
    if quick is not None:
        assert quick == by_schema(raw)


@pytest.mark.parametrize("place", ["\0", "a\nb", " ", "", "x" * 41, "\ud800", 7, None])
def test_odd_text_is_left_to_the_schema(place: Any) -> None:
    assert offer.quick({**WHOLE, "skin": [{"place": place, "finding": "rash"}]}) is None


@pytest.mark.parametrize("raw", [WHOLE, {"id": "c1", "limb_id": "a", "date": "2026-05-02", "stack": [], "comfort": 0}])
def test_what_comes_back_from_a_phone_that_had_it_from_us_is_the_same_text(raw: dict[str, Any]) -> None:
    first = offer.read(raw)
    given_out = wire.out(first.id, first.limb_id, first.body)
    as_javascript_writes_it = orjson.loads(orjson.dumps(given_out).replace(b".0,", b",").replace(b".0}", b"}"))
    assert offer.read(as_javascript_writes_it).body == first.body


def test_a_number_has_one_text() -> None:
    assert offer.read({**WHOLE, "hours_worn": 11.0, "weight_kg": 70.0}).body == (
        offer.read({**WHOLE, "hours_worn": 11, "weight_kg": 70}).body
    )
