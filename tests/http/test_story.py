"""The story of a limb over HTTP: what was written, by whom, and what was known on another day."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests.actors import PASSWORD, Actor, Cast, Clock


def test_the_story_of_a_limb_holds_what_was_written_and_by_whom(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today, stack=[{"ply": 3, "make": "single"}, {"ply": 1, "make": "single"}])
    mended = cast.anouk.checkin(today, replaces=said["id"], comfort=5)
    cast.anouk.sync(said, mended)
    story = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
    day = story["days"][0]
    assert day["date"] == today.isoformat()
    first, second = day["checkins"]
    assert (first["replaced_by"], second["replaces"]) == (mended["id"], said["id"])
    assert first["stack_mm"] == pytest.approx(1.9)  # 1.2 + 0.7 mm: Sanders 2012, single material, under load
    assert first["written_by"]["label"] == "Anouk's phone"
    assert story["sockets"][0]["purpose"] == "preparatory"


def test_a_story_replayed_holds_only_what_was_known_then(cast: Cast, today: date, clock: Clock) -> None:
    cast.anouk.sync(cast.anouk.checkin(today))
    clock.forward(days=3)
    late = cast.anouk.checkin(today - timedelta(days=1))
    cast.anouk.sync(late)
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    session = cast.nobody.post("/api/clinic/session", {"login": "ida", "password": PASSWORD})
    ida = Actor(cast.app, {"Cookie": session.headers["Set-Cookie"].split(";")[0]})
    now = ida.get(path).get_json()
    then = ida.get(path, query_string={"as_of": today.isoformat()}).get_json()
    assert [len(story["days"]) for story in (now, then)] == [2, 1]


def test_the_story_holds_the_limb_on_one_scale_beside_the_sockets(cast: Cast, today: date) -> None:
    cast.anouk.sync(*[cast.anouk.checkin(today - timedelta(days=n)) for n in range(20)])
    story = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
    assert story["assessment"]["volume"]["reference_on"] == story["band"][0]["date"]
    assert {"pct", "low", "high", "limb_pct", "limb_low", "limb_high"} < set(story["band"][-1])
