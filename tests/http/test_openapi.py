"""The API's own description: valid by an outside validator, complete, and true of the routes."""

from __future__ import annotations

import warnings

import pytest

from tests.actors import Cast

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the validator's own imports
    from openapi_spec_validator import validate


def test_it_is_valid_openapi_3(cast: Cast) -> None:
    described = cast.nobody.get("/api/openapi.json").get_json()
    assert described["openapi"].startswith("3.")
    validate(described)


def test_every_route_below_api_is_described_with_its_methods(cast: Cast) -> None:
    described = cast.nobody.get("/api/openapi.json").get_json()["paths"]
    operations = {f"{method.upper()} {path}" for path, methods in described.items() for method in methods}
    for expected in (
        "POST /api/enrol",
        "POST /api/sync",
        "GET /api/me",
        "POST /api/clinic/session",
        "DELETE /api/clinic/session",
        "GET /api/clinic/worklist",
        "GET /api/clinic/limbs/{limb_id}",
        "GET /api/clinic/limbs/{limb_id}/assessment",
        "GET /api/openapi.json",
    ):
        assert expected in operations
    from_rules = sum(
        len((rule.methods or set()) - {"HEAD", "OPTIONS"}) * max(1, str(rule).count(",") + ("<any(" in str(rule)))
        for rule in cast.app.url_map.iter_rules()
        if str(rule).startswith("/api/")
    )
    assert len(operations) == from_rules


def test_every_route_but_the_doors_asks_who_is_there(cast: Cast) -> None:
    described = cast.nobody.get("/api/openapi.json").get_json()["paths"]
    open_to_all = {
        f"{method} {path}"
        for path, methods in described.items()
        for method, said in methods.items()
        if "security" not in said
    }
    assert open_to_all == {
        "get /api/calendar/{secret}.ics",  # whoever has the secret
        "get /api/openapi.json",
        "post /api/clinic/password-by-code",
        "post /api/clinic/password-mail",
        "post /api/clinic/session",
        "post /api/clinic/session/passkey",
        "post /api/clinic/session/passkey-options",
        "post /api/enrol",
    }


@pytest.mark.parametrize("name", ["Person", "CheckIn", "Socket"])
def test_unknown_fields_are_refused_in_the_description_too(cast: Cast, name: str) -> None:
    described = cast.nobody.get("/api/openapi.json").get_json()["components"]["schemas"]
    assert described[name]["additionalProperties"] is False


@pytest.mark.parametrize(
    ("method", "path", "name"),
    [
        ("post", "/api/clinic/limbs/{limb_id}/sockets", "entry.add_socket.post"),
        ("get", "/api/clinic/limbs/{limb_id}", "clinic.limb.get"),
        ("post", "/api/clinic/limbs/{limb_id}/decisions", "planner.decide.post"),
        ("post", "/api/clinic/signals/{signal_id}/close", "matters.act.close.post"),
    ],
)
def test_a_route_keeps_its_public_name_whatever_file_it_stands_in(
    cast: Cast, method: str, path: str, name: str
) -> None:
    described = cast.nobody.get("/api/openapi.json").get_json()["paths"]
    assert described[path][method]["operationId"] == name
