"""Chair time over HTTP: which weeks, which limbs, and why."""

from __future__ import annotations

from tests.actors import Cast
from tests.http.anouk import DECISION, path


def test_a_later_wait_takes_the_planned_recast_out_of_chair_time(cast: Cast) -> None:
    cast.ida.get("/api/clinic/worklist")
    cast.ida.made(path(cast, "/decisions"), DECISION)
    assert cast.ida.get("/api/clinic/stock").get_json()["recasts"] == 1
    cast.clock.forward(seconds=1)
    cast.ida.made(path(cast, "/decisions"), {"on": "2025-09-15", "choice": "wait"})
    assert cast.ida.get("/api/clinic/stock").get_json()["recasts"] == 0


def test_every_limb_that_is_counted_says_why_and_a_quiet_one_is_not_named(cast: Cast) -> None:
    cast.ida.get("/api/clinic/worklist")
    socket = {"fitted_on": "2025-09-01", "purpose": "diagnostic"}
    cast.ida.made(path(cast, "/sockets"), socket)
    cast.ida.get("/api/clinic/worklist")
    weeks = cast.ida.get("/api/clinic/chair-time").get_json()["weeks"]
    named = [one for week in weeks for one in week["limbs"]]
    assert {one["limb_id"] for one in named} == {cast.anouk.limb_id}
    assert {one["reason"]["code"] for one in named} == {"remake"}
    assert "15 September to 22 September" in named[0]["reason"]["words"]
    assert [round(sum(one["chance"] for one in week["limbs"]), 2) for week in weeks[:3]] == [0.88, 0.12, 0]
    assert weeks[0]["quiet"] == {"limbs": 3, "expected": 0.02}


def test_a_planned_recast_is_in_its_week_of_chair_time(cast: Cast) -> None:
    cast.ida.get("/api/clinic/worklist")
    before = cast.ida.get("/api/clinic/chair-time").get_json()["weeks"]
    cast.ida.made(path(cast, "/decisions"), DECISION)
    after = cast.ida.get("/api/clinic/chair-time").get_json()["weeks"]
    assert len(after) == 8 and after[3]["from"] == "2025-10-06"
    assert after[3]["expected"] - before[3]["expected"] > 0.9
    assert after[3]["limbs"][0]["person"]["name"] == "Anouk"
