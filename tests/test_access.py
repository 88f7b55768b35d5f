"""Who gets in: staff by password, phones by a one-time code, and neither through the other's door."""

from __future__ import annotations

from typing import Any

import pytest

from tests.actors import PASSWORD, Actor, Cast, Clock


def code_for(cast: Cast, person_id: str, role: str = "wearer") -> str:
    answer = cast.ida.made(f"/api/clinic/people/{person_id}/enrolment-codes", {"role": role})
    return str(answer["code"])


def refusal(answer: Any) -> tuple[int, str]:
    return answer.status_code, answer.get_json()["error"]["code"]


def test_a_code_is_forgiving_of_case_spaces_and_dashes_and_works_once(cast: Cast) -> None:
    typed = code_for(cast, cast.anouk.id).lower().replace("-", " ")
    first = cast.nobody.post("/api/enrol", {"code": typed, "label": "Hall phone"})
    assert (first.status_code, first.get_json()["role"]) == (200, "wearer")
    assert [person["id"] for person in first.get_json()["people"]] == [cast.anouk.id]
    again = cast.nobody.post("/api/enrol", {"code": typed, "label": "Hall phone"})
    assert refusal(again) == (422, "code-used")
    assert list(again.get_json()["error"]["fields"]) == ["code"]


def test_a_code_expires(cast: Cast, clock: Clock) -> None:
    code = code_for(cast, cast.anouk.id)
    clock.forward(hours=24, seconds=1)
    assert refusal(cast.nobody.post("/api/enrol", {"code": code, "label": "x"})) == (422, "code-expired")


def test_guessing_codes_is_slowed_down(cast: Cast) -> None:
    said = [cast.nobody.post("/api/enrol", {"code": f"WRONG{n}", "label": "x"}) for n in range(12)]
    assert [answer.status_code for answer in said[:10]] == [422] * 10
    assert refusal(said[11]) == (429, "too-many-tries")
    assert int(said[11].headers["Retry-After"]) >= 1


def test_a_caregivers_phone_may_hold_several_people(cast: Cast) -> None:
    wanted = {"role": "caregiver", "person_ids": [cast.bram.id, cast.anouk.id]}
    code = cast.ida.made(f"/api/clinic/people/{cast.bram.id}/enrolment-codes", wanted)["code"]
    answer = cast.nobody.made("/api/enrol", {"code": code, "label": "Both"})
    assert {person["id"] for person in answer["people"]} == {cast.bram.id, cast.anouk.id}


def test_a_code_can_not_be_made_for_another_clinics_person(cast: Cast) -> None:
    path = f"/api/clinic/people/{cast.anouk.id}/enrolment-codes"
    assert cast.teodor.post(path, {"role": "wearer"}).status_code == 404
    wanted = {"role": "caregiver", "person_ids": [cast.esme.id]}
    assert cast.ida.post(path, wanted).status_code == 404


def test_a_revoked_phone_is_shut_out_at_once(cast: Cast) -> None:
    device = cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/devices").get_json()["devices"][0]
    assert cast.anouk.phone.get("/api/me").status_code == 200
    assert cast.ida.delete(f"/api/clinic/devices/{device['id']}").status_code == 200
    assert refusal(cast.anouk.phone.get("/api/me")) == (401, "not-enrolled")
    assert refusal(cast.anouk.sync()) == (401, "not-enrolled")


def test_each_door_refuses_the_other_kind(cast: Cast) -> None:
    assert refusal(cast.anouk.phone.get("/api/clinic/worklist")) == (403, "wrong-kind")
    assert refusal(cast.ida.get("/api/me")) == (403, "wrong-kind")
    assert refusal(cast.nobody.get("/api/me")) == (401, "not-enrolled")
    assert refusal(cast.nobody.get("/api/clinic/worklist")) == (401, "signed-out")
    wrong = Actor(cast.app, {"Authorization": "Bearer nonsense", "Cookie": "plytide_session=nonsense"})
    assert wrong.get("/api/me").status_code == 401
    assert wrong.get("/api/clinic/worklist").status_code == 401


@pytest.mark.parametrize("token", [None, "", "wrong", "é"])
def test_a_write_without_the_right_csrf_header_is_refused(cast: Cast, token: str | None) -> None:
    headers = {"Cookie": cast.ida.headers["Cookie"]} | ({} if token is None else {"X-CSRF-Token": token})
    answer = Actor(cast.app, headers).post("/api/clinic/people", {"name": "Nobody"})
    assert refusal(answer) == (403, "csrf")


def test_a_write_from_another_site_is_refused(cast: Cast) -> None:
    answer = cast.ida.post("/api/clinic/people", {"name": "Nobody"}, headers={"Sec-Fetch-Site": "cross-site"})
    assert refusal(answer) == (403, "cross-site")


def test_wrong_name_and_wrong_password_get_the_same_answer(cast: Cast) -> None:
    said = [
        cast.nobody.post("/api/clinic/session", {"login": login, "password": "not the password"})
        for login in ("ida", "nobody-at-all")
    ]
    assert {refusal(answer) for answer in said} == {(401, "sign-in")}
    assert said[0].get_json() == said[1].get_json()


def test_guessing_a_password_is_slowed_down_and_a_wait_frees_it(cast: Cast, clock: Clock) -> None:
    wrong, right = ({"login": "ida", "password": word} for word in ("wrong", PASSWORD))
    for _ in range(5):
        assert cast.nobody.post("/api/clinic/session", wrong).status_code == 401
    blocked = cast.nobody.post("/api/clinic/session", right)
    assert refusal(blocked) == (429, "too-many-tries")
    clock.forward(seconds=int(blocked.headers["Retry-After"]) + 1)
    assert cast.nobody.post("/api/clinic/session", right).status_code == 200


def test_signing_out_ends_the_session(cast: Cast) -> None:
    assert cast.ida.get("/api/clinic/session").get_json()["staff"]["login"] == "ida"
    assert cast.ida.delete("/api/clinic/session").status_code == 200
    assert cast.ida.get("/api/clinic/session").status_code == 401


def test_an_idle_session_ends(cast: Cast, clock: Clock) -> None:
    clock.forward(minutes=29)
    assert cast.ida.get("/api/clinic/session").status_code == 200
    clock.forward(minutes=29)
    assert cast.ida.get("/api/clinic/session").status_code == 200
    clock.forward(minutes=31)
    assert cast.ida.get("/api/clinic/session").status_code == 401


def test_the_session_cookie_is_out_of_reach_of_scripts_and_other_sites(cast: Cast) -> None:
    answer = cast.nobody.post("/api/clinic/session", {"login": "ida", "password": PASSWORD})
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie and "SameSite=Strict" in cookie and "Path=/" in cookie
    assert PASSWORD not in answer.get_data(as_text=True)


def test_no_secret_is_kept_as_it_is(cast: Cast) -> None:
    code = code_for(cast, cast.anouk.id)
    data_dir = cast.app.config["SETTINGS"].data_dir
    kept = b"".join(path.read_bytes() for path in data_dir.rglob("*.db*"))
    for secret in (PASSWORD, cast.anouk.token, code, cast.ida.headers["Cookie"].split("=")[1]):
        assert secret.encode() not in kept
