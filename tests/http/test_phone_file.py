"""What a phone could not send, brought as a file: kept once, as the phone's own, whoever brings it."""

from __future__ import annotations

from datetime import date

from tests.actors import Cast, Json


def phone_file(*checkins: Json) -> Json:
    return {"plytide_export": 1, "made_at": "2025-09-15T12:00:00Z", "checkins": list(checkins)}


def device_of(cast: Cast, person_id: str) -> str:
    (device,) = cast.ida.get(f"/api/clinic/people/{person_id}/devices").get_json()["devices"]
    return str(device["id"])


def bring(cast: Cast, body: Json) -> Json:
    answer = cast.ida.post(f"/api/clinic/people/{cast.anouk.id}/phone-file", body)
    assert answer.status_code == 200, answer.get_json()
    found: Json = answer.get_json()
    return found


def test_a_file_is_kept_as_the_phones_own_and_only_once(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today, comfort=3, written_by=device_of(cast, cast.anouk.id))
    assert [one["status"] for one in bring(cast, phone_file(said))["receipts"]] == ["kept"]
    assert [one["status"] for one in bring(cast, phone_file(said))["receipts"]] == ["already"]
    (kept,) = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()["days"][0]["checkins"]
    assert (kept["comfort"], kept["written_by"]["label"]) == (3, "Anouk's phone")
    assert [one["status"] for one in cast.anouk.sync(said).get_json()["receipts"]] == ["already"]


def test_a_revoked_phones_file_is_still_taken(cast: Cast, today: date) -> None:
    device = device_of(cast, cast.anouk.id)
    assert cast.ida.delete(f"/api/clinic/devices/{device}").status_code == 200
    said = cast.anouk.checkin(today, written_by=device)
    assert bring(cast, phone_file(said))["receipts"][0]["status"] == "kept"


def test_entries_of_another_persons_phone_are_refused_and_the_rest_kept(cast: Cast, today: date) -> None:
    own = cast.anouk.checkin(today, written_by=device_of(cast, cast.anouk.id))
    other = cast.dov.checkin(today, written_by=device_of(cast, cast.dov.id))
    nobody = cast.anouk.checkin(today)
    receipts = {one["id"]: one for one in bring(cast, phone_file(own, other, nobody))["receipts"]}
    assert receipts[own["id"]]["status"] == "kept"
    assert list(receipts[other["id"]]["errors"]) == ["written_by"]
    assert list(receipts[nobody["id"]]["errors"]) == ["written_by"]


def test_a_limb_the_phone_does_not_write_for_is_refused(cast: Cast, today: date) -> None:
    said = cast.dov.checkin(today, written_by=device_of(cast, cast.anouk.id))
    assert list(bring(cast, phone_file(said))["receipts"][0]["errors"]) == ["limb_id"]


def test_what_is_no_such_file_is_refused_by_field(cast: Cast) -> None:
    answer = cast.ida.post(f"/api/clinic/people/{cast.anouk.id}/phone-file", {"checkins": "all", "x": 1})
    assert answer.status_code == 422
    assert sorted(answer.get_json()["error"]["fields"]) == ["checkins", "plytide_export", "x"]


def test_another_clinic_and_a_phone_may_not_bring_it(cast: Cast) -> None:
    path = f"/api/clinic/people/{cast.anouk.id}/phone-file"
    assert cast.teodor.post(path, phone_file()).status_code == 404
    assert cast.anouk.phone.post(path, phone_file()).status_code == 403
    assert cast.nobody.post(path, phone_file()).status_code == 401


def test_who_brought_it_is_in_the_audit_trail(cast: Cast, today: date) -> None:
    bring(cast, phone_file(cast.anouk.checkin(today, written_by=device_of(cast, cast.anouk.id))))
    lines = cast.nora.get(f"/api/clinic/audit?subject={cast.anouk.id}").get_json()
    assert ["phone.file", "kept 1"] in [[line["what"], line["detail"]] for line in lines["lines"]]
