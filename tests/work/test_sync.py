"""Sync, in promises: kept once, receipted one by one, nothing of a bad item and all of a good one."""

from __future__ import annotations

import gzip
import json
from datetime import date, timedelta
from typing import Any

import pytest

from plytide.storage import history as histories
from tests.actors import Cast, checkin


def receipts(answer: Any) -> list[dict[str, Any]]:
    assert answer.status_code == 200, answer.get_json()
    return answer.get_json()["receipts"]  # type: ignore[no-any-return]


def test_a_checkin_is_kept_and_comes_back(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today, fit="tight", note="warm day", hours_worn=7.5)
    answer = cast.anouk.sync(said).get_json()
    assert answer["receipts"] == [{"id": said["id"], "status": "kept", "errors": {}}]
    back = [change for change in answer["changes"] if change["type"] == "checkin"]
    assert [(one["id"], one["fit"], one["note"], one["hours_worn"]) for one in back] == [
        (said["id"], "tight", "warm day", 7.5)
    ]
    assert back[0]["written_by"]["role"] == "wearer"


def test_the_worst_comfort_and_an_empty_stack_are_kept_as_they_are(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today, comfort=0, stack=[], pain=0, hours_worn=0, falls=0)
    answer = cast.anouk.sync(said).get_json()
    back = next(one for one in answer["changes"] if one["type"] == "checkin")
    assert [back[field] for field in ("comfort", "stack", "pain", "hours_worn", "falls")] == [0, [], 0, 0, 0]


def test_a_checkin_sent_twice_is_kept_once(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today)
    assert [one["status"] for one in receipts(cast.anouk.sync(said, said))] == ["kept", "already"]
    assert receipts(cast.anouk.sync(said))[0]["status"] == "already"
    whole = cast.anouk.sync().get_json()["changes"]
    assert [change["id"] for change in whole if change["type"] == "checkin"] == [said["id"]]


def test_a_different_checkin_with_a_used_id_is_refused(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today)
    cast.anouk.sync(said)
    refused = receipts(cast.anouk.sync({**said, "comfort": 2}))[0]
    assert (refused["status"], list(refused["errors"])) == ("refused", ["id"])


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("comfort", 11),
        ("comfort", "8"),
        ("comfort", True),
        ("comfort", 7.5),
        ("date", "2025-13-01"),
        ("date", "yesterday"),
        ("date", "2025-09-18"),
        ("date", "2025-02-02"),  # the day before the amputation
        ("moment", "noon"),
        ("fit", "perfect"),
        ("stack", "3 ply"),
        ("limb_id", "no-such-limb"),
        ("id", 7),
        ("hours_worn", 25),
        ("weight_kg", -3),
        ("surprise", 1),
        ("prefilled", "yes"),
        ("time", "7.40"),
        ("offset", "+15:00"),
    ],
)
def test_a_bad_field_is_named_and_does_not_block_the_good_ones(cast: Cast, today: date, field: str, value: Any) -> None:
    good, other = cast.anouk.checkin(today), cast.anouk.checkin(today)
    bad = {**cast.anouk.checkin(today), field: value}
    said = receipts(cast.anouk.sync(good, bad, other))
    assert [one["status"] for one in said] == ["kept", "refused", "kept"]
    assert list(said[1]["errors"]) == [field]
    assert all(message for message in said[1]["errors"][field])
    changes = cast.anouk.sync().get_json()["changes"]
    assert {change["id"] for change in changes if change["type"] == "checkin"} == {good["id"], other["id"]}


@pytest.mark.parametrize(
    ("stack", "field"),
    [
        ([{"ply": 4, "make": "single"}], "stack[0].ply"),
        ([{"ply": "3", "make": "single"}], "stack[0].ply"),
        ([{"ply": 3}, {"ply": 1, "make": "wool"}], "stack[1].make"),
        ([{"make": "single"}], "stack[0].ply"),
        ([{"ply": 1}] * 13, "stack"),
    ],
)
def test_a_sock_that_is_not_in_the_table_is_named(cast: Cast, today: date, stack: Any, field: str) -> None:
    refused = receipts(cast.anouk.sync(cast.anouk.checkin(today, stack=stack)))[0]
    assert list(refused["errors"]) == [field]


def test_what_is_missing_is_named(cast: Cast) -> None:
    refused = receipts(cast.anouk.sync({"id": "a"}))[0]
    assert sorted(refused["errors"]) == ["comfort", "date", "limb_id", "stack"]
    assert receipts(cast.anouk.sync(["not an object"]))[0]["status"] == "refused"  # type: ignore[arg-type]


def test_tomorrow_is_kept_with_a_mark_since_a_clock_may_be_a_day_fast(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today + timedelta(days=1), offset="+02:00", time="14:00")
    answer = cast.anouk.sync(said).get_json()
    assert answer["receipts"][0]["status"] == "kept"
    assert [one["doubt"] for one in answer["changes"] if one["type"] == "checkin"] == ["ahead"]


def test_a_phone_sees_only_its_own_people(cast: Cast, today: date) -> None:
    foreign = checkin(cast.bram.limb_id, today)
    other_clinic = checkin(cast.esme.limb_id, today)
    said = receipts(cast.anouk.sync(foreign, other_clinic))
    assert [list(one["errors"]) for one in said] == [["limb_id"], ["limb_id"]]
    cast.bram.sync(foreign)
    changes = cast.anouk.sync().get_json()["changes"]
    assert {change["id"] for change in changes if change["type"] in ("person", "limb")} == {
        cast.anouk.id,
        *cast.anouk.limb_ids,
    }


def test_more_than_500_checkins_are_refused_whole(cast: Cast, today: date) -> None:
    answer = cast.anouk.sync(*[cast.anouk.checkin(today) for _ in range(501)])
    assert (answer.status_code, answer.get_json()["error"]["code"]) == (413, "too-many")
    assert [one for one in cast.anouk.sync().get_json()["changes"] if one["type"] == "checkin"] == []
    assert cast.anouk.sync(*[cast.anouk.checkin(today) for _ in range(500)]).status_code == 200


@pytest.mark.parametrize("body", [b"", b"{", b"\xff\xfe", b"NaN", b"[" * 3000])
def test_a_body_that_is_not_json_is_a_400_in_our_shape(cast: Cast, body: bytes) -> None:
    answer = cast.anouk.phone.call("POST", "/api/sync", data=body, content_type="application/json")
    assert answer.status_code == 400
    assert answer.get_json()["error"]["code"] == "not-json"


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"schema": 99, "cursor": None, "checkins": []}, "schema"),
        ({"cursor": None, "checkins": []}, "schema"),
        ({"schema": 1, "cursor": None, "checkins": {}}, "checkins"),
        ({"schema": 1, "cursor": 7, "checkins": []}, "cursor"),
        ({"schema": 1, "cursor": None, "checkins": [], "more": 1}, "more"),
        ([], "body"),
    ],
)
def test_an_envelope_that_can_not_be_read_is_a_422_naming_the_field(cast: Cast, body: Any, field: str) -> None:
    answer = cast.anouk.phone.post("/api/sync", body)
    assert answer.status_code == 422
    assert list(answer.get_json()["error"]["fields"]) == [field]


def test_gzip_is_taken_and_given(cast: Cast, today: date) -> None:
    said = [cast.anouk.checkin(today) for _ in range(50)]
    body = gzip.compress(json.dumps({"schema": 1, "cursor": None, "checkins": said}).encode())
    answer = cast.anouk.phone.call(
        "POST",
        "/api/sync",
        data=body,
        content_type="application/json",
        headers={"Content-Encoding": "gzip", "Accept-Encoding": "gzip"},
    )
    assert answer.headers["Content-Encoding"] == "gzip"
    assert len(json.loads(gzip.decompress(answer.data))["receipts"]) == 50


def test_a_gzip_bomb_is_refused_without_being_unpacked(cast: Cast) -> None:
    answer = cast.anouk.phone.call(
        "POST", "/api/sync", data=gzip.compress(b" " * 50_000_000), headers={"Content-Encoding": "gzip"}
    )
    assert answer.status_code == 413


def test_the_cursor_gives_only_what_is_new(cast: Cast, today: date) -> None:
    first = cast.anouk.sync(cast.anouk.checkin(today)).get_json()
    nothing = cast.anouk.sync(cursor=first["cursor"]).get_json()
    assert (nothing["changes"], nothing["more"], nothing["cursor"]) == ([], False, first["cursor"])
    said = cast.anouk.checkin(today)
    after = cast.anouk.sync(said, cursor=first["cursor"]).get_json()
    assert [change["id"] for change in after["changes"]] == [said["id"]]


def test_a_long_log_comes_in_pages_without_a_gap(cast: Cast, today: date) -> None:
    sent = set()
    for _ in range(3):
        batch = [cast.anouk.checkin(today - timedelta(days=day)) for day in range(100) for _ in range(5)]
        sent |= {one["id"] for one in batch}
        cast.anouk.sync(*batch)
    seen, cursor, pages = [], None, 0
    while True:
        answer = cast.anouk.sync(cursor=cursor).get_json()
        seen += [change["id"] for change in answer["changes"] if change["type"] == "checkin"]
        cursor, pages = answer["cursor"], pages + 1
        if not answer["more"]:
            break
    assert (len(seen), set(seen), pages) == (1500, sent, 4)


def test_two_corrections_of_one_checkin_are_both_kept(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today)
    one, two = (cast.anouk.checkin(today, replaces=said["id"], comfort=comfort) for comfort in (4, 5))
    cast.anouk.sync(two)
    cast.anouk.sync(one)
    cast.anouk.sync(said)
    changes = cast.anouk.sync().get_json()["changes"]
    assert {one["id"] for one in changes if one["type"] == "checkin"} == {said["id"], one["id"], two["id"]}


@pytest.mark.parametrize("cursor", ["", "x", "a.b.c", "..", "e.99999999999999999999.0", "é.1.2"])
def test_a_cursor_that_makes_no_sense_starts_from_the_beginning(cast: Cast, cursor: str) -> None:
    answer = cast.anouk.sync(cursor=cursor)
    assert answer.status_code == 200
    assert {change["type"] for change in answer.get_json()["changes"]} == {"person", "limb", "socket"}


def test_a_batch_with_corrections_does_not_read_the_whole_log(
    cast: Cast, today: date, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each once cost a pass over all that was ever logged: the longer the log, the slower every call."""
    asked: list[int | None] = []
    whole = histories.history

    def counted(db: Any, limb_id: str, until: str | None = None, newest: int | None = None) -> Any:
        asked.append(newest)
        return whole(db, limb_id, until, newest)

    monkeypatch.setattr("plytide.storage.history.history", counted)
    first = [cast.anouk.checkin(today - timedelta(days=1)) for _ in range(10)]
    second = [cast.anouk.checkin(today - timedelta(days=1), replaces=one["id"]) for one in first]
    answer = cast.anouk.sync(*first, *second).get_json()
    assert {receipt["status"] for receipt in answer["receipts"]} == {"kept"}
    # Nor does a danger of long ago that was taken back in the same call: nothing around it is asked.
    old = cast.anouk.checkin(today - timedelta(days=60), comfort=0)
    cast.anouk.sync(old, cast.anouk.checkin(today - timedelta(days=60), replaces=old["id"]))
    assert asked == []
    danger = cast.anouk.checkin(today, signs=["chest_pain_or_breathless"], signs_checked=True)
    cast.anouk.sync(danger, cast.anouk.checkin(today, replaces=danger["id"]))
    assert asked and None not in asked
    assert max(one or 0 for one in asked) <= histories.OF_LATE + 2  # and what came in this call
