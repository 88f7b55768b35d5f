"""The one-pass reader of what phones send against the schema that has the words: they never disagree."""

from __future__ import annotations

from typing import Any

import orjson
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plytide import model
from plytide.wire import checkin as wire
from plytide.wire import quick as kinds
from tests.wire.test_plain_checkin import FULL, damaged, odd

WHOLE: dict[str, Any] = {
    **FULL, "limb_id": "a", "note": "warm day", "written_at": "2026-05-02T05:40:00Z", "zone": "Europe/Berlin",
    "written_by": "phone-1", "photos": ["p1"],
}  # fmt: skip


def by_schema(raw: Any) -> wire.Offer | None:
    try:
        return wire.slow(raw)
    except wire.Refused:
        return None


@settings(max_examples=400, deadline=None)
@given(raw=damaged(), also=st.dictionaries(st.sampled_from(["note", "zone", "photos", "written_by", "limb_id"]), odd))
def test_what_it_takes_the_schema_takes_alike(raw: Any, also: dict[str, Any]) -> None:
    if isinstance(raw, dict):
        raw = {**raw, "limb_id": "a", **also}
    quick = wire.quick(raw)
    if quick is not None:
        assert quick == by_schema(raw)


def test_a_whole_right_checkin_is_taken_in_one_pass() -> None:
    """Else the speed it is there for would be lost without a word."""
    assert wire.quick(WHOLE) == by_schema(WHOLE) is not None
    for name in WHOLE.keys() - {"id", "limb_id", "date", "stack", "comfort"}:
        rest = {key: value for key, value in WHOLE.items() if key != name}
        assert wire.quick(rest) == by_schema(rest) is not None
        if name not in (
            "signs",
            "skin",
            "tags",
            "photos",
            "moment",
            "skin_checked",
            "signs_checked",
            "prefilled",
            "withdrawn",
        ):
            assert wire.quick({**WHOLE, name: None}) == by_schema({**WHOLE, name: None}) is not None


def test_every_field_of_the_definition_has_a_quick_check() -> None:
    """A kind the quick path does not know would send every check-in to the schema, fifty times slower, unseen."""
    fields = wire.CheckInSchema().fields
    assert [name for name, field in fields.items() if kinds.sure(field) is kinds._never] == []


def test_the_noun_of_what_was_not_sent_is_what_the_body_says_of_it() -> None:
    """The defaults of the noun and those of the wire are one."""
    fields = wire.CheckInSchema().fields
    for name, silent in wire.EMPTY.items():
        if name in model.CheckIn.__dataclass_fields__:
            become = kinds.noun(fields[name])
            assert model.CheckIn.__dataclass_fields__[name].default == (become(silent) if become else silent), name


@pytest.mark.parametrize("name", ["id", "limb_id", "date", "stack", "comfort"])
def test_what_is_missing_is_left_to_the_schema(name: str) -> None:
    assert wire.quick({key: value for key, value in WHOLE.items() if key != name}) is None


@pytest.mark.parametrize("name", list(WHOLE))
@given(value=odd)
@settings(max_examples=40, deadline=None)
def test_each_field_with_an_odd_value_is_judged_alike(name: str, value: Any) -> None:
    raw = {**WHOLE, name: value}
    quick = wire.quick(raw)
    if quick is not None:
        assert quick == by_schema(raw)


@pytest.mark.parametrize("place", ["\0", "a\nb", " ", "", "x" * 41, "\ud800", 7, None])
def test_odd_text_is_left_to_the_schema(place: Any) -> None:
    assert wire.quick({**WHOLE, "skin": [{"place": place, "finding": "rash"}]}) is None


@pytest.mark.parametrize("raw", [WHOLE, {"id": "c1", "limb_id": "a", "date": "2026-05-02", "stack": [], "comfort": 0}])
def test_what_comes_back_from_a_phone_that_had_it_from_us_is_the_same_text(raw: dict[str, Any]) -> None:
    first = wire.read(raw)
    given_out = wire.out(first.id, first.limb_id, first.body)
    as_javascript_writes_it = orjson.loads(orjson.dumps(given_out).replace(b".0,", b",").replace(b".0}", b"}"))
    assert wire.read(as_javascript_writes_it).body == first.body


def test_a_number_has_one_text() -> None:
    assert wire.read({**WHOLE, "hours_worn": 11.0, "weight_kg": 70.0}).body == (
        wire.read({**WHOLE, "hours_worn": 11, "weight_kg": 70}).body
    )
