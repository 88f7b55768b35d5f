"""The text and the noun of a check-in, against those the first published server made: the same bytes for ever."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

import orjson
import pytest

from plytide.wire import checkin as wire

CASES = json.loads((Path(__file__).parents[1] / "published" / "checkin-bodies-v1.json").read_text(encoding="utf-8"))[
    "cases"
]


def said_by(noun: Any) -> dict[str, Any]:
    """A noun as the published file has it: without what says nothing."""
    said = json.loads(json.dumps(dataclasses.asdict(noun), default=str))
    return {name: value for name, value in said.items() if value is not None and value is not False and value != []}


@pytest.mark.parametrize("case", CASES, ids=[case["sent"]["id"] for case in CASES])
def test_a_checkin_has_the_text_and_the_noun_it_always_had(case: dict[str, Any]) -> None:
    sent = case["sent"]
    for read in (wire.read, wire.slow):
        offered = read(sent)
        assert offered.body == case["body"]
        assert (offered.id, offered.limb_id, offered.written_by) == (sent["id"], sent["limb_id"], case["written_by"])
    seq = case["noun"]["seq"]
    noun = wire.noun(seq, sent["id"], sent["limb_id"], case["body"], "2025-09-03T10:00:00.000000+00:00")
    assert noun.written_at == orjson.loads(case["body"]).get("written_at")
    assert said_by(dataclasses.replace(noun, written_at=None)) == case["noun"]
    given_out = orjson.loads(orjson.dumps(wire.out(sent["id"], sent["limb_id"], case["body"])))
    assert wire.read(given_out).body == case["body"]
