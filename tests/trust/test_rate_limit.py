"""How often one caller may call. Callers come through one proxy: calls from the machine itself are not counted."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from plytide.auth import rate_limit
from plytide.http.app import create_app
from plytide.http.route import route_of
from plytide.settings import Settings

LIMIT = 20


@pytest.fixture
def client(tmp_path: Path) -> FlaskClient:
    return create_app(Settings(tmp_path, proxies=1, calls_a_minute=LIMIT)).test_client()


def call(client: FlaskClient, path: str, address: str, token: str = "", **more: Any) -> TestResponse:
    headers = {"X-Forwarded-For": address} | ({"Authorization": f"Bearer {token}"} if token else {})
    return client.get(path, headers=headers, **more)


def times_answered(client: FlaskClient, path: str, address: str, token: str, tries: int) -> int:
    return sum(call(client, path, address, token).status_code != 429 for _ in range(tries))


def test_a_caller_over_the_limit_is_told_when_to_come_back(client: FlaskClient) -> None:
    assert times_answered(client, "/api/me", "203.0.113.5", "one", LIMIT) == LIMIT
    refused = call(client, "/api/me", "203.0.113.5", "one")
    assert refused.status_code == 429
    assert 1 <= int(refused.headers["Retry-After"]) <= 60
    assert refused.get_json()["error"]["code"] == "too-many-calls"
    assert "Wait" in refused.get_json()["error"]["message"]


def test_one_callers_haste_is_nobody_elses_wait(client: FlaskClient) -> None:
    times_answered(client, "/api/me", "203.0.113.5", "one", LIMIT + 5)
    assert call(client, "/api/me", "203.0.113.5", "another").status_code == 401
    assert call(client, "/api/me", "203.0.113.6").status_code == 401


def test_made_up_tokens_do_not_help_an_address_over_its_limit(client: FlaskClient) -> None:
    """Ten callers' worth from one address, whoever they say they are."""
    many = sum(call(client, "/api/me", "203.0.113.5", f"made-up-{k}").status_code != 429 for k in range(LIMIT * 10 + 7))
    assert many == LIMIT * rate_limit.ADDRESS_TIMES


def test_heavy_calls_have_a_smaller_share(client: FlaskClient) -> None:
    path = "/api/clinic/limbs/some/visit-page.pdf"
    assert times_answered(client, path, "203.0.113.5", "one", LIMIT) == LIMIT // rate_limit.HEAVY_SHARE
    assert call(client, "/api/me", "203.0.113.6", "two").status_code == 401


def test_phones_that_fetch_the_app_keep_nobody_at_their_address_from_calling(client: FlaskClient) -> None:
    """The files are fetched before a phone can say who it is, a hundred and more, by all at a clinic at once."""
    most = LIMIT * rate_limit.ADDRESS_TIMES
    assert times_answered(client, "/phone", "203.0.113.5", "", most + 5) == most
    assert call(client, "/api/me", "203.0.113.5").status_code == 401


def test_an_address_of_ipv6_is_its_first_half_and_a_mapped_one_is_ipv4(client: FlaskClient) -> None:
    """Whoever has one has 2**64 of them."""
    many = [call(client, "/api/me", f"2001:db8:1:2::{n:x}").status_code for n in range(LIMIT + 1)]
    assert many == [401] * LIMIT + [429]
    assert call(client, "/api/me", "2001:db8:1:3::1").status_code == 401
    mapped = [call(client, "/api/me", f"::ffff:203.0.113.{n}").status_code for n in range(LIMIT + 1)]
    assert mapped == [401] * (LIMIT + 1)


def test_whether_the_server_lives_may_be_asked_at_any_time(client: FlaskClient) -> None:
    assert times_answered(client, "/healthz", "203.0.113.5", "", 3 * LIMIT) == 3 * LIMIT


def test_the_machine_itself_is_not_counted_and_nobody_can_pretend_to_be_it(tmp_path: Path) -> None:
    here = create_app(Settings(tmp_path, calls_a_minute=3)).test_client()
    assert all(here.get("/api/me").status_code == 401 for _ in range(20))
    behind = create_app(replace(Settings(tmp_path, calls_a_minute=3), proxies=1)).test_client()
    said = [behind.get("/api/me", headers={"X-Forwarded-For": "127.0.0.1, 203.0.113.5"}) for _ in range(5)]
    assert [answer.status_code for answer in said] == [401, 401, 401, 429, 429]


def test_nothing_is_counted_where_the_operator_says_so(tmp_path: Path) -> None:
    free = create_app(Settings(tmp_path, proxies=1, calls_a_minute=0)).test_client()
    assert times_answered(free, "/api/me", "203.0.113.5", "one", 700) == 700


HEAVY = {
    "GET /api/clinic/audit",
    "GET /api/clinic/caseloads/<caseload_id>/rows",
    "GET /api/clinic/chair-time",
    "GET /api/clinic/letters/<letter_id>/letter.pdf",
    "GET /api/clinic/limbs/<limb_id>/bundle.fhir.json",
    "GET /api/clinic/limbs/<limb_id>/checkins.csv",
    "GET /api/clinic/limbs/<limb_id>/letter-draft",
    "GET /api/clinic/limbs/<limb_id>/payer-page.pdf",
    "GET /api/clinic/limbs/<limb_id>/plan",
    "GET /api/clinic/limbs/<limb_id>/visit-page.pdf",
    "GET /api/clinic/own-record",
    "GET /api/clinic/own-record.csv",
    "GET /api/clinic/people/<person_id>/export.html",
    "GET /api/clinic/people/<person_id>/export.json",
    "GET /api/clinic/photos/<photo_id>",
    "GET /api/clinic/stock",
    "GET /api/clinic/stock/items",
    "GET /api/clinic/stock/ledger.csv",
    "GET /api/clinic/stock/need",
    "GET /api/clinic/stock/order.csv",
    "GET /api/clinic/stock/stock.csv",
    "GET /api/photos/<photo_id>",
    "POST /api/clinic/caseloads/<caseload_id>/bring",
    "POST /api/clinic/caseloads/<caseload_id>/letters",
    "POST /api/clinic/caseloads/<caseload_id>/undo",
    "POST /api/clinic/people/search",
    "POST /api/clinic/staff/<staff_id>/hand-over",
    "POST /api/clinic/stock/imports",
    "POST /api/clinic/stock/imports/<import_id>/undo",
    "POST /api/clinic/worklist/search",
    "PUT /api/photos/<photo_id>",
}


def test_each_route_says_what_it_costs(tmp_path: Path) -> None:
    """Held against a list of its own: a heavy route that calls itself light is found here."""
    app = create_app(Settings(tmp_path))
    costs: dict[str, set[str]] = {}
    for rule in app.url_map.iter_rules():
        about = route_of(app, rule.endpoint)
        assert about is not None, f"{rule} says nothing about itself"
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}:
            costs.setdefault(about.cost, set()).add(f"{method} {rule}")
    assert costs["heavy"] == HEAVY
    assert costs["free"] == {"GET /healthz", "GET /readyz"}
    assert not any(" /api/" in route for route in costs["file"])


def test_a_phone_back_after_weeks_is_well_within_the_limit() -> None:
    """3,000 entries in calls of 50, one after the other, and a page of changes after each."""
    assert 3_000 / 50 * 2 < Settings(Path()).calls_a_minute
