"""What every answer carries, whatever the route and whatever came of it (OWASP ASVS 5.0, 3.4 and 3.7)."""

from __future__ import annotations

import dataclasses
import re

import pytest

from plytide.http.app import create_app
from tests.actors import PASSWORD, Actor, Cast
from tests.trust.conftest import World
from tests.trust.test_routes import TABLE, call

STRICT = {
    "default-src": "'none'", "script-src": "'self'", "style-src": "'self'", "connect-src": "'self'",
    "frame-ancestors": "'none'", "base-uri": "'none'", "object-src": "'none'", "form-action": "'self'",
}  # fmt: skip


@pytest.mark.parametrize("route", TABLE)
def test_every_route_answers_with_a_strict_policy_and_no_store_of_health_data(world: World, route: str) -> None:
    for caller in ("nobody", "own phone", "other clinic's manager"):
        answer = call(world, world.callers[caller], route, TABLE[route])
        policy = dict(part.strip().split(" ", 1) for part in answer.headers["Content-Security-Policy"].split(";"))
        assert {name: policy[name] for name in STRICT} == STRICT
        assert "unsafe" not in str(policy) and "http" not in str(policy) and "*" not in str(policy)
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "no-referrer"
        assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"
        assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
        assert "Access-Control-Allow-Origin" not in answer.headers
        assert not re.search(r"\d", answer.headers.get("Server", ""))
        if " /api/" in route:
            assert answer.headers["Cache-Control"] == "no-store"
        answer.close()
        world.cast.clock.forward(seconds=2)


def test_behind_tls_the_cookie_is_bound_to_the_host_and_the_browser_stays_on_tls(cast: Cast) -> None:
    made = cast.app.config["SETTINGS"]
    app = create_app(dataclasses.replace(made, secure_cookies=True, public_url="https://clinic.example"))
    answer = Actor(app).post("/api/clinic/session", {"login": "ida", "password": PASSWORD})
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith("__Host-plytide_session=") and "Secure" in cookie and "Domain" not in cookie
    assert "max-age=63072000" in answer.headers["Strict-Transport-Security"]


def test_behind_a_proxy_each_caller_is_told_apart_and_without_one_nobody_can_pretend(cast: Cast) -> None:
    made = cast.app.config["SETTINGS"]

    def refusals(proxies: int) -> list[int]:
        guessing = Actor(create_app(dataclasses.replace(made, proxies=proxies)))
        wrong = {"code": "WRONG"}
        said = [
            guessing.post("/api/enrol", wrong, headers={"X-Forwarded-For": f"10.0.{proxies}.{n}"}) for n in range(12)
        ]
        return [answer.status_code for answer in said]

    assert refusals(1) == [422] * 12
    assert 429 in refusals(0)  # the header of a caller who is no proxy of ours changes nothing


def test_figures_are_for_this_machine_or_for_the_token(cast: Cast) -> None:
    elsewhere = {"environ_base": {"REMOTE_ADDR": "203.0.113.9"}}
    assert cast.nobody.get("/metrics").status_code == 200
    assert cast.nobody.get("/metrics", **elsewhere).status_code == 404
    assert cast.nobody.get("/metrics", headers={"X-Forwarded-For": "127.0.0.1"}).status_code == 404
    token = Actor(create_app(dataclasses.replace(cast.app.config["SETTINGS"], metrics_token="of the watch")))
    assert token.get("/metrics").status_code == 404
    assert token.get("/metrics", headers={"Authorization": "Bearer of the watch"}, **elsewhere).status_code == 200
