"""A colleague takes over: people and open signals at once, each in the record."""

from __future__ import annotations

from tests.actors import Cast
from tests.conftest import TODAY


def ids(cast: Cast) -> dict[str, str]:
    return {one["name"]: one["id"] for one in cast.ida.get("/api/clinic/staff").get_json()["staff"]}


def test_people_and_open_signals_go_over_at_once_and_closed_ones_stay(cast: Cast) -> None:
    who, anouk = ids(cast), cast.anouk
    for person_id in (anouk.id, cast.dov.id):
        cast.ida.patch(f"/api/clinic/people/{person_id}", {"clinician_id": who["ida"]})
    anouk.sync(anouk.checkin(TODAY, skin=[{"place": "fibula head", "finding": "open_skin"}], skin_checked=True))
    cast.ida.get("/api/clinic/worklist")
    limb = f"/api/clinic/limbs/{anouk.limb_id}"
    for one in cast.ida.get(limb).get_json()["signals"]:
        cast.ida.post(f"/api/clinic/signals/{one['id']}/assign", {"staff_id": who["ida"]})
    before = len(cast.ida.get(limb).get_json()["signals"])
    assert before > 0
    moved = cast.nora.post(f"/api/clinic/staff/{who['ida']}/hand-over", {"to": who["nora"]}).get_json()
    assert moved == {"people": 2, "signals": before}
    assert cast.ida.get(f"/api/clinic/people/{cast.dov.id}").get_json()["clinician_id"] == who["nora"]
    assert {one["assigned_to"] for one in cast.ida.get(limb).get_json()["signals"]} == {who["nora"]}
    again = cast.nora.post(f"/api/clinic/staff/{who['ida']}/hand-over", {"to": who["nora"]}).get_json()
    assert again == {"people": 0, "signals": 0}
    said = [line["what"] for line in cast.nora.get("/api/clinic/audit").get_json()["lines"]]
    assert said.count("staff.hand-over") == 2 and said.count("signal.assign") == 2 * before


def test_nobody_hands_over_to_somebody_who_is_not_there(cast: Cast) -> None:
    who = ids(cast)
    for to in ("none", who["ida"]):
        answer = cast.nora.post(f"/api/clinic/staff/{who['ida']}/hand-over", {"to": to})
        assert answer.status_code == 422 and list(answer.get_json()["error"]["fields"]) == ["to"]
    assert cast.juno.post(f"/api/clinic/staff/{who['ida']}/hand-over", {"to": who["nora"]}).status_code == 403
