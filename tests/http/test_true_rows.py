"""What a row of the worklist says of socks and of the last log is true in particular cases."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from tests.actors import Cast, Json


def row_of(cast: Cast, limb_id: str | None = None) -> Json:
    rows = cast.ida.get("/api/clinic/worklist").get_json()["limbs"]
    return next(row for row in rows if row["limb_id"] == (limb_id or cast.anouk.limb_id))


def kept(cast: Cast, *entries: Json) -> None:
    receipts = cast.anouk.sync(*entries).get_json()["receipts"]
    assert [one["status"] for one in receipts] == ["kept"] * len(entries), receipts


def test_an_entry_taken_back_is_no_log(cast: Cast, today: date) -> None:
    kept(cast, cast.anouk.checkin(today - timedelta(days=6)))
    assert row_of(cast)["silent_days"] == 6
    wrong = cast.anouk.checkin(today)
    kept(cast, wrong)
    assert row_of(cast)["silent_days"] == 0
    kept(cast, cast.anouk.checkin(today, replaces=wrong["id"], withdrawn=True))
    assert row_of(cast)["silent_days"] == 6


def test_an_entry_moved_to_its_true_day_is_of_that_day(cast: Cast, today: date) -> None:
    wrong = cast.anouk.checkin(today)
    kept(cast, wrong, cast.anouk.checkin(today - timedelta(days=5), replaces=wrong["id"]))
    assert row_of(cast)["silent_days"] == 5


def test_all_taken_back_was_never_logged(cast: Cast, today: date) -> None:
    wrong = cast.anouk.checkin(today)
    kept(cast, wrong, cast.anouk.checkin(today, replaces=wrong["id"], withdrawn=True))
    row = row_of(cast)
    assert (row["silent_days"], row["strip"]["now"], set(row["strip"]["mm"])) == (None, None, {None})


@pytest.mark.parametrize("back", [-1, 0, 1, 4, 5, 27, 28, 29])
def test_a_gap_is_counted_in_whole_days(cast: Cast, today: date, back: int) -> None:
    kept(cast, cast.anouk.checkin(today - timedelta(days=back)))
    row = row_of(cast)
    assert row["silent_days"] == max(back, 0)
    assert (row["strip"]["now"] is not None) == (0 <= back <= 27)


STACKS: dict[str, tuple[Any, Any, bool]] = {
    "no sock, then one": ([], [{"ply": 3, "make": "single"}], True),
    "another order": (
        [{"ply": 1, "make": "single"}, {"ply": 5, "make": "single"}],
        [{"ply": 5, "make": "single"}, {"ply": 1, "make": "single"}],
        False,
    ),
    "a make that was not known": ([{"ply": 3, "make": "unknown"}], [{"ply": 3, "make": "single"}], False),
    "a blend for a single": ([{"ply": 3, "make": "blend"}], [{"ply": 3, "make": "single"}], True),
    "a sheath more": (
        [{"ply": 5, "make": "single"}],
        [{"ply": 0, "make": "single"}, {"ply": 5, "make": "single"}],
        True,
    ),
}


@pytest.mark.parametrize("name", STACKS)
def test_what_was_is_said_where_it_was_something_else(cast: Cast, today: date, name: str) -> None:
    before, now, differs = STACKS[name]
    for limb in cast.anouk.limb_ids:
        for socket in cast.ida.get(f"/api/clinic/limbs/{limb}").get_json()["sockets"]:
            assert socket["fitted_on"] < (today - timedelta(days=27)).isoformat(), "the cast's socket is an old one"
    kept(
        cast,
        *(cast.anouk.checkin(today - timedelta(days=back), stack=before) for back in (27, 26, 25)),
        cast.anouk.checkin(today, stack=now),
    )
    strip = row_of(cast)["strip"]
    assert strip["now"] == now
    assert (strip["was"] is not None) == differs


@pytest.mark.parametrize(
    ("zone", "hour", "ahead"), [("Pacific/Kiritimati", 12, 1), ("America/Los_Angeles", 3, -1), ("Europe/London", 12, 0)]
)
def test_the_day_of_the_list_is_the_clinics_own(cast: Cast, today: date, zone: str, hour: int, ahead: int) -> None:
    """At night on Kiritimati it is still yesterday in UTC, in the evening of Los Angeles already tomorrow."""
    cast.clock.now = cast.clock.now.replace(hour=hour)
    assert cast.ida.get("/api/clinic/worklist").get_json()["as_of"] == today.isoformat()
    assert cast.nora.patch("/api/clinic/settings", {"zone": zone}).status_code == 200
    local = today + timedelta(days=ahead)
    for on in (local, local - timedelta(days=1)):
        cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/visits", {"on": on.isoformat()})
    kept(cast, cast.anouk.checkin(local - timedelta(days=4)))
    answer = cast.ida.get("/api/clinic/worklist").get_json()
    row = next(row for row in answer["limbs"] if row["limb_id"] == cast.anouk.limb_id)
    assert (answer["as_of"], row["next_visit"], row["silent_days"]) == (local.isoformat(), local.isoformat(), 4)
