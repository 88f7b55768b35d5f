"""A replay of a day: what was said by its evening, what had been done about it, and what had not come yet."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from tests.actors import Cast, Clock
from tests.conftest import signed_in

BLISTER = [{"place": "shin", "finding": "blister", "redness_minutes": None}]


def replay(cast: Cast, day: date | None = None) -> Any:
    query = {"as_of": day.isoformat()} if day else {}
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    return signed_in(cast.app, "ida").get(path, query_string=query).get_json()


def told(cast: Cast) -> str:
    """A round; the path of the blister's signal."""
    ida = signed_in(cast.app, "ida")
    ida.get("/api/clinic/worklist")
    signals = ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()["signals"]
    return f"/api/clinic/signals/{next(one['id'] for one in signals if one['kind'] == 'skin')}"


def test_a_signal_stands_as_it_stood_on_each_evening(cast: Cast, today: date, clock: Clock) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, skin=BLISTER))
    path = told(cast)
    clock.forward(days=1)
    signed_in(cast.app, "ida").made(f"{path}/acknowledge", {"answer": "Leave it off."})
    clock.forward(days=1)
    signed_in(cast.app, "ida").made(f"{path}/close", {"outcome": "Seen and adjusted"})
    clock.forward(days=1)
    stood = []
    for n in (-1, 0, 1, 2):
        found = replay(cast, today + timedelta(days=n))["signals"]
        stood.append([(one["status"], [event["event"] for event in one["events"]]) for one in found])
    assert stood == [
        [],
        [("open", ["opened"])],
        [("acknowledged", ["opened", "acknowledge"])],
        [("closed", ["opened", "acknowledge", "close"])],
    ]
    assert replay(cast)["not_known_then"] is None  # today is no replay


def test_undone_and_raised_are_replayed_too(cast: Cast, today: date, clock: Clock) -> None:
    red = [{"place": "shin", "finding": "rash", "redness_minutes": None}]
    cast.anouk.sync(*(cast.anouk.checkin(today - timedelta(days=back), skin=red) for back in (4, 2, 0)))
    path = told(cast)
    signed_in(cast.app, "ida").made(f"{path}/close", {"outcome": "Seen"})
    clock.forward(days=1)
    signed_in(cast.app, "ida").made(f"{path}/undo", {})
    clock.forward(days=1)
    stood = {n: replay(cast, today + timedelta(days=n))["signals"][-1]["status"] for n in (0, 1)}
    assert stood == {0: "closed", 1: "open"}


def test_what_came_late_was_not_known_then_and_is_marked(cast: Cast, today: date, clock: Clock) -> None:
    """A blister of Sunday that arrives on Thursday is no part of what Monday was told."""
    late = cast.anouk.checkin(today - timedelta(days=1), skin=BLISTER)
    clock.forward(days=3)
    cast.anouk.sync(late)
    told(cast)
    then = replay(cast, today)
    assert then["days"] == [] and then["signals"] == []
    assert "held" != then["assessment"]["readiness"]["state"]
    assert [(one["id"], one["received_at"][:10]) for one in then["not_known_then"]["checkins"]] == [
        (late["id"], (today + timedelta(days=3)).isoformat())
    ]
    assert [(one["kind"], one["since"]) for one in then["not_known_then"]["signals"]] == [
        ("skin", (today - timedelta(days=1)).isoformat())
    ]
    on_arrival = replay(cast, today + timedelta(days=3))
    assert on_arrival["not_known_then"] == {"checkins": [], "signals": []}
    assert len(on_arrival["signals"]) == 1


def test_the_evidence_of_a_replay_is_what_had_come(cast: Cast, today: date, clock: Clock) -> None:
    first = cast.anouk.checkin(today, skin=BLISTER)
    cast.anouk.sync(first)
    told(cast)
    clock.forward(days=1)
    cast.anouk.sync(cast.anouk.checkin(today + timedelta(days=1), skin=BLISTER))
    told(cast)
    (signal,) = replay(cast, today)["signals"]
    assert signal["evidence"] == [first["id"]]


def test_a_replay_shows_no_end_that_came_later(cast: Cast, today: date, clock: Clock) -> None:
    """Neither the end of a socket, nor a visit made, moved or called off since, nor a part entered or taken out."""
    ida, path = cast.ida, f"/api/clinic/limbs/{cast.anouk.limb_id}"
    fitted = (today - timedelta(days=60)).isoformat()
    socket = ida.made(f"{path}/sockets", {"fitted_on": fitted, "purpose": "diagnostic"})
    visits = f"/api/clinic/people/{cast.anouk.id}/visits"
    kept = ida.made(visits, {"on": str(today + timedelta(days=9))})
    part = ida.made(f"{path}/parts", {"what": "Liner, warranty", "ends_on": str(today + timedelta(days=90))})
    clock.forward(days=2)
    ida = signed_in(cast.app, "ida")
    ended = (today + timedelta(days=1)).isoformat()
    assert ida.patch(f"/api/clinic/sockets/{socket['id']}", {"retired_on": ended}).status_code == 200
    moved = {"on": str(today + timedelta(days=12)), "cancelled": True}
    assert ida.patch(f"/api/clinic/visits/{kept['id']}", moved).status_code == 200
    ida.made(visits, {"on": str(today + timedelta(days=30))})
    assert ida.delete(f"/api/clinic/parts/{part['id']}").status_code in (200, 204)
    ida.made(f"{path}/parts", {"what": "Lock", "ends_on": str(today + timedelta(days=120))})
    then, now = replay(cast, today), replay(cast)
    assert [one["retired_on"] for one in then["sockets"] if one["id"] == socket["id"]] == [None]
    assert [(one["on"], one["cancelled"]) for one in then["visits"]] == [(str(today + timedelta(days=9)), False)]
    assert [one["what"] for one in then["parts"]] == ["Liner, warranty"]
    assert [one["retired_on"] for one in now["sockets"] if one["id"] == socket["id"]] == [ended]
    assert [(one["on"], one["cancelled"]) for one in now["visits"]] == [
        (str(today + timedelta(days=12)), True), (str(today + timedelta(days=30)), False)
    ]  # fmt: skip
    assert [one["what"] for one in now["parts"]] == ["Lock"]
