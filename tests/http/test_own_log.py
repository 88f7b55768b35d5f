"""A teenager may write for themselves: a caregiver's phone then gets what it wrote, and the trend in words."""

from __future__ import annotations

from datetime import date

import pytest

from tests.actors import Actor, Cast, Wearer
from tests.http.test_photos import jpeg, put


@pytest.fixture
def teenager(cast: Cast) -> Wearer:
    """Bram with a phone of his own beside his mother's."""
    code = cast.ida.made(f"/api/clinic/people/{cast.bram.id}/enrolment-codes", {"role": "wearer"})["code"]
    token = cast.nobody.made("/api/enrol", {"code": code, "label": "Bram's own"})["token"]
    phone = Actor(cast.app, {"Authorization": f"Bearer {token}"})
    return Wearer("Bram", cast.bram.id, cast.bram.limb_ids, phone, token)


def seen(wearer: Wearer) -> set[str]:
    changes = wearer.sync().get_json()["changes"]
    return {change["id"] for change in changes if change["type"] == "checkin"}


def test_the_caregiver_sees_less_once_the_clinic_says_so(cast: Cast, teenager: Wearer, today: date) -> None:
    his, hers = teenager.checkin(today, note="between us"), cast.bram.checkin(today)
    teenager.sync(his)
    cast.bram.sync(hers)
    assert seen(cast.bram) == seen(teenager) == {his["id"], hers["id"]}
    assert cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", {"own_log": True}).status_code == 200
    assert cast.ida.get(f"/api/clinic/people/{cast.bram.id}").get_json()["own_log"] is True
    assert seen(cast.bram) == {hers["id"]}
    assert seen(teenager) == {his["id"], hers["id"]}
    assert cast.bram.limb_id in cast.bram.phone.get("/api/me").get_json()["seen"]  # the trend in words stays


def test_the_caregivers_phone_knows_that_it_does_not_hold_all(cast: Cast, teenager: Wearer, today: date) -> None:
    def withheld(wearer: Wearer) -> bool:
        [person] = wearer.phone.get("/api/me").get_json()["people"]
        return bool(person["withheld"])

    assert not withheld(cast.bram)
    cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", {"own_log": True})
    assert (withheld(cast.bram), withheld(teenager)) == (True, False)
    cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", {"own_log": False})
    assert not withheld(cast.bram)  # he wrote nothing meanwhile
    cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", {"own_log": True})
    teenager.sync(teenager.checkin(today))
    cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", {"own_log": False})
    assert withheld(cast.bram)  # what he wrote for himself stays his


def test_his_photos_are_his(cast: Cast, teenager: Wearer) -> None:
    put(teenager, jpeg(), "his")
    put(cast.bram, jpeg(), "hers")
    assert cast.bram.phone.get("/api/photos/his").status_code == 200
    cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", {"own_log": True})
    assert [cast.bram.phone.get(f"/api/photos/{name}").status_code for name in ("his", "hers")] == [404, 200]
    assert cast.ida.get("/api/clinic/photos/his").status_code == 200


def test_the_clinic_sees_both(cast: Cast, teenager: Wearer, today: date) -> None:
    cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", {"own_log": True})
    his, hers = teenager.checkin(today), cast.bram.checkin(today)
    teenager.sync(his)
    cast.bram.sync(hers)
    days = cast.ida.get(f"/api/clinic/limbs/{cast.bram.limb_id}").get_json()["days"]
    assert {one["id"] for one in days[0]["checkins"]} == {his["id"], hers["id"]}


def test_what_was_written_for_oneself_stays_so_when_it_is_over(cast: Cast, teenager: Wearer, today: date) -> None:
    before = teenager.checkin(today)
    teenager.sync(before)
    cursor = cast.bram.sync().get_json()["cursor"]
    cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", {"own_log": True})
    skin = [{"place": "shin", "finding": "open_skin", "redness_minutes": None}]
    his, hers = teenager.checkin(today, note="between us", skin=skin), cast.bram.checkin(today)
    teenager.sync(his)
    cast.bram.sync(hers)
    put(teenager, jpeg(), "his", checkin_id=his["id"])
    cast.ida.get("/api/clinic/worklist")
    cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", {"own_log": False})
    after = teenager.checkin(today)
    teenager.sync(after)
    kept = {one["id"] for one in cast.bram.sync(cursor=cursor).get_json()["changes"] if one["type"] == "checkin"}
    assert kept == {hers["id"], after["id"]}
    assert seen(cast.bram) == {before["id"], hers["id"], after["id"]}
    assert seen(teenager) == {before["id"], his["id"], hers["id"], after["id"]}
    assert cast.bram.phone.get("/api/photos/his").status_code == 404
    assert teenager.phone.get("/api/photos/his").status_code == 200
    assert his["id"] not in cast.bram.phone.get("/api/me").get_data(as_text=True)
    assert his["id"] in teenager.phone.get("/api/me").get_data(as_text=True)
