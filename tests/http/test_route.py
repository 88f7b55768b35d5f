"""The recipe "add a route", carried out: one function and one schema more, and everything that must know, knows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from flask import Flask, Response

from plytide.auth.guards import ANYBODY, MANAGER, PHONE
from plytide.http.app import ROUTES, create_app, routed
from plytide.http.body import answer
from plytide.http.openapi import describe
from plytide.http.route import Routes, checked_body
from plytide.wire.fields import Strict, Text
from tests.actors import Actor, Cast
from tests.conftest import SOCKET
from tests.trust.test_routes import TABLE, routes

LIMIT = 20


class ShelfSchema(Strict):
    label = Text(most=20, required=True)


def scratch() -> Routes:
    """What somebody who adds a route writes."""
    route = Routes("shelf", "/api/clinic")

    @route("POST", "/limbs/<limb_id>/shelf", MANAGER, body=ShelfSchema, query={"row": {"type": "string"}}, cost="heavy")
    def put_on_shelf(limb_id: str) -> Response:
        """Where a limb's old sockets lie."""
        return answer({"limb_id": limb_id, "label": checked_body()["label"]})

    return route


@dataclass
class Grown:
    """The cast's clinic, served by an app that has one route more."""

    cast: Cast
    app: Flask

    def by(self, actor: Actor) -> Actor:
        return Actor(self.app, actor.headers)


@pytest.fixture
def grown(cast: Cast) -> Iterator[Grown]:
    routed.cache_clear()  # the routes of a process are read once: these are another list
    try:
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr("plytide.http.app.ROUTES", (*ROUTES, scratch()))
            yield Grown(cast, create_app(replace(cast.app.config["SETTINGS"], proxies=1, calls_a_minute=LIMIT)))
    finally:
        routed.cache_clear()


WHERE = "/api/clinic/limbs/{limb_id}/shelf"


def test_only_its_caller_comes_in(grown: Grown) -> None:
    cast, path = grown.cast, WHERE.format(limb_id=grown.cast.anouk.limb_id)
    said = {
        name: grown.by(actor).post(path, {"label": "B 7"}).status_code
        for name, actor in {
            "nobody": cast.nobody,
            "phone": cast.anouk.phone,
            "assistant": cast.juno,
            "prosthetist": cast.ida,
            "manager": cast.nora,
        }.items()
    }
    assert said == {"nobody": 401, "phone": 403, "assistant": 403, "prosthetist": 403, "manager": 200}
    without = {name: value for name, value in cast.nora.headers.items() if name != "X-CSRF-Token"}
    assert Actor(grown.app, without).post(path, {"label": "B 7"}).status_code == 403


def test_its_body_is_checked_by_the_schema_it_names(grown: Grown) -> None:
    path = WHERE.format(limb_id=grown.cast.anouk.limb_id)
    for body, field in (({}, "label"), ({"label": "B 7", "colour": "red"}, "colour")):
        refused = grown.by(grown.cast.nora).post(path, body)
        assert refused.status_code == 422 and list(refused.get_json()["error"]["fields"]) == [field]


def test_its_calls_are_counted_as_heavy(grown: Grown) -> None:
    path = WHERE.format(limb_id=grown.cast.anouk.limb_id)
    away = Actor(grown.app, grown.cast.nora.headers | {"X-Forwarded-For": "203.0.113.5"})
    said = [away.post(path, {"label": "B 7"}).status_code for _ in range(LIMIT // 5 + 1)]
    assert said == [200] * (LIMIT // 5) + [429]


def test_it_stands_in_openapi_and_nothing_else_there_is_changed(grown: Grown) -> None:
    described, before = describe(grown.app), describe(grown.cast.app)
    said = described["paths"].pop(WHERE)["post"]
    shelf = described["components"]["schemas"].pop("Shelf")
    assert described == before
    assert said["summary"] == "Where a limb's old sockets lie."
    assert said["security"] == [{"staff": [], "csrf": []}]
    assert [(one["in"], one["name"]) for one in said["parameters"]] == [("path", "limb_id"), ("query", "row")]
    assert said["requestBody"]["content"]["application/json"]["schema"] == {"$ref": "#/components/schemas/Shelf"}
    assert shelf["required"] == ["label"] and shelf["additionalProperties"] is False


def test_it_is_missing_from_the_table_of_who_gets_what_until_somebody_writes_its_row(grown: Grown) -> None:
    assert {f"{method} {rule}" for method, rule in routes(grown)} - set(TABLE) == {
        "POST /api/clinic/limbs/<limb_id>/shelf"
    }


def test_a_route_that_does_not_say_who_may_call_it_is_no_route(tmp_path: Path) -> None:
    unsaid: Any = Routes("unsaid")
    with pytest.raises(TypeError, match="caller"):
        unsaid("GET", "/unsaid")


def test_a_function_of_two_addresses_has_one_door() -> None:
    route = Routes("two")

    @route("GET", "/one", ANYBODY)
    @route("GET", "/two", ANYBODY)
    def both() -> Response:
        return answer({})

    with pytest.raises(AssertionError, match="something else"):
        route("GET", "/three", PHONE)(both)


def test_a_change_may_leave_fields_out_but_not_half_of_what_is_in_a_list(cast: Cast) -> None:
    """Half a sock in a socket's stack would be kept, and break the limb's page ever after."""
    socket = cast.ida.made(f"/api/clinic/limbs/{cast.anouk.limb_id}/sockets", SOCKET)["id"]
    path = f"/api/clinic/sockets/{socket}"
    for given, field in (
        ({"stack_at_fitting": [{}]}, "stack_at_fitting[0].ply"),
        ({"wear_schedule": [{"day": 1}]}, "wear_schedule[0].hours"),
        ({"wear_schedule": [{"day": 1, "hours": 1}, {"day": 1, "hours": 2}]}, "wear_schedule"),
    ):
        refused = cast.ida.patch(path, given)
        assert refused.status_code == 422 and field in refused.get_json()["error"]["fields"], refused.get_json()
    assert cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").status_code == 200
