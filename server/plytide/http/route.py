"""A route says all about itself, beside its function. OpenAPI, rate limits and access checks read it there."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, ParamSpec, TypeVar

from flask import Blueprint, Flask, current_app, request

from plytide.auth.guards import Caller, guarded
from plytide.auth.rate_limit import Cost
from plytide.http.body import json_object
from plytide.storage.files.room import Need
from plytide.wire.body import read
from plytide.wire.fields import Strict

P = ParamSpec("P")
R = TypeVar("R")
JsonSchema = dict[str, Any]

JSON, PDF, JPEG, HTML, CSV, FHIR = (
    "application/json",
    "application/pdf",
    "image/jpeg",
    "text/html",
    "text/csv",
    "application/fhir+json",
)

# What may stand behind the "?" of an address.
TEXT: JsonSchema = {"type": "string"}
DAY: JsonSchema = {"type": "string", "format": "date"}
PAGE: dict[str, JsonSchema] = {"limit": {"type": "integer", "minimum": 1, "maximum": 200}, "next": TEXT}


def one_of(words: Iterable[str]) -> JsonSchema:
    return {"type": "string", "enum": list(words)}


@dataclass(frozen=True, slots=True)
class Route:
    """What is known of a route before anybody calls it."""

    caller: Caller
    body: type[Strict] | JsonSchema | None = None  # the schema that checks it, or what JSON Schema says of it
    asks: Mapping[str, JsonSchema] = field(default_factory=dict)  # by the name of each field behind the "?"
    cost: Cost = "light"
    gives: str = JSON
    done: int | tuple[int, ...] = 200  # how it answers when all is well
    room: Need = "some"  # what of the disk must be left for it
    called: str = ""  # its name in the API's description


class Routes:
    """The routes of one file: `route = Routes("notes", "/api/clinic")`, then `@route("GET", "/notes", STAFF)`.

    `called` is what their names begin with in the API's description, where that is not the file's: those are public.
    """

    def __init__(self, name: str, prefix: str | None = None, called: str | None = None, room: Need = "some") -> None:
        self.blueprint = Blueprint(name, __name__, url_prefix=prefix)
        self.called, self.room = called or name, room

    def __call__(
        self,
        method: str,
        path: str,
        caller: Caller,
        *,
        body: type[Strict] | JsonSchema | None = None,
        query: Mapping[str, JsonSchema] | None = None,
        cost: Cost = "light",
        gives: str = JSON,
        done: int | tuple[int, ...] = 200,
        room: Need | None = None,
        **options: Any,
    ) -> Callable[[Callable[P, R]], Callable[P, R]]:
        """Only `caller` reaches the function; what else Flask takes for an address is in `options`."""

        def keep(view: Callable[P, R]) -> Callable[P, R]:
            about = Route(
                caller, body, query or {}, cost, gives, done, room or self.room, f"{self.called}.{view.__name__}"
            )
            known: Route | None = getattr(view, "route", None)
            # A function of two addresses has one door, so both must say the same.
            assert known in (None, about), f"{path} says something else than the function's other address"
            door = view if known else guarded(view, caller)
            door.route = about  # type: ignore[attr-defined]
            self.blueprint.add_url_rule(path, view_func=door, methods=[method], **options)  # type: ignore[arg-type]
            return door

        return keep


def route_of(app: Flask, endpoint: str | None) -> Route | None:
    """What a route says about itself; None where there is no such address."""
    return getattr(app.view_functions.get(endpoint or ""), "route", None)


def cost_here() -> Cost:
    """What this call costs. An address that nobody has costs what any call does."""
    route = route_of(current_app, request.endpoint)
    return route.cost if route else "light"


def need_here() -> Need:
    """What room this call needs. What a phone says needs none of what is spared for it."""
    route = route_of(current_app, request.endpoint)
    if route is None or (route.caller.kind != "staff" and route.room != "much"):
        return "none"
    return route.room


def checked_body() -> dict[str, Any]:
    """This call's body, by the schema its route names; PATCH may leave fields out. Raises Refused by field."""
    route = route_of(current_app, request.endpoint)
    assert route is not None and isinstance(route.body, type), f"{request.endpoint} names no schema for its body"
    return read(route.body(), json_object(), partial=request.method == "PATCH")
