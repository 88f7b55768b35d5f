"""Who gets in: staff by password, phones by a one-time code, and neither through the other's door."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.actors import PASSWORD, Actor, Cast, Clock
from tests.conftest import bearing


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


def joining(cast: Cast, code: str, attempt: str | None) -> Any:
    headers = {"Idempotency-Key": attempt} if attempt else {}
    return cast.nobody.call("POST", "/api/enrol", {"code": code, "label": "Hall phone"}, headers=headers)


def test_a_phone_that_got_no_answer_uses_its_code_again_and_no_other_phone_can(cast: Cast) -> None:
    code, own = code_for(cast, cast.anouk.id), "a" * 32
    lost = joining(cast, code, own).get_json()
    for other in ("b" * 32, None, ""):
        assert refusal(joining(cast, code, other)) == (422, "code-used")
    again = joining(cast, code, own)
    assert (again.status_code, again.get_json()["device_id"]) == (200, lost["device_id"])
    token = again.get_json()["token"]
    assert bearing(cast.app, token).get("/api/me").status_code == 200
    assert bearing(cast.app, lost["token"]).get("/api/me").status_code == 401  # of one phone, one token
    there = cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/devices").get_json()["devices"]
    assert [one["label"] for one in there].count("Hall phone") == 1


@pytest.mark.parametrize("attempt", ["short", "x" * 200, "ä" * 32, " " * 32])
def test_an_attempt_that_could_be_guessed_is_none(cast: Cast, attempt: str) -> None:
    code = code_for(cast, cast.anouk.id)
    assert joining(cast, code, attempt).status_code == 200
    assert refusal(joining(cast, code, attempt)) == (422, "code-used")


def test_a_code_that_was_used_comes_back_neither_for_ever_nor_for_a_phone_that_was_shut_out(
    cast: Cast, clock: Clock
) -> None:
    code, own = code_for(cast, cast.anouk.id), "a" * 32
    device_id = joining(cast, code, own).get_json()["device_id"]
    assert cast.ida.delete(f"/api/clinic/devices/{device_id}").status_code == 200
    assert refusal(joining(cast, code, own)) == (422, "code-used")
    code = code_for(cast, cast.anouk.id)
    joining(cast, code, own)
    clock.forward(hours=24, seconds=1)
    assert refusal(joining(cast, code, own)) == (422, "code-used")


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
    assert refusal(cast.anouk.phone.get("/api/me")) == (401, "revoked")
    assert refusal(cast.anouk.sync()) == (401, "revoked")
    # Said of this phone, which knows its id: nobody between can say so.
    assert cast.anouk.sync().get_json()["revoked"] == {"device_id": device["id"]}


def test_a_token_nobody_knows_is_not_said_to_be_shut_out(cast: Cast) -> None:
    """Another server, or an older copy of this one: the phone keeps its link and tries again."""
    answer = Actor(cast.app, {"Authorization": "Bearer nonsense"}).get("/api/me")
    assert refusal(answer) == (401, "not-enrolled") and "revoked" not in answer.get_json()


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


@pytest.mark.parametrize(
    ("said", "status"),
    [
        ({"Referer": "https://elsewhere.example/page"}, 403),
        ({"Origin": "https://elsewhere.example"}, 403),
        ({"Referer": "http://localhost/clinic"}, 200),
        ({"Referer": "https://elsewhere.example/", "Sec-Fetch-Site": "same-origin"}, 200),
        ({}, 200),
    ],
)
def test_a_sign_in_from_another_site_is_refused_whatever_tells_of_it(
    cast: Cast, said: dict[str, str], status: int
) -> None:
    body = json.dumps({"login": "ida", "password": PASSWORD})
    headers = {"Content-Type": "text/plain", **said}
    assert cast.nobody.post("/api/clinic/session", data=body, headers=headers).status_code == status


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
