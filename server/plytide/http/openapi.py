"""The whole API as OpenAPI 3.1, made from the routes and the schemas that check them, so that it can't drift."""

from __future__ import annotations

import re
from typing import Any

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin
from flask import Flask, Response, current_app
from werkzeug.routing import Rule

from plytide.auth.guards import ANYBODY
from plytide.http.body import answer
from plytide.http.route import DAY, Route, Routes, route_of
from plytide.wire import fields
from plytide.wire.checkin import CheckInSchema

route = Routes("openapi", "/api")

ERROR = {
    "type": "object",
    "required": ["error"],
    "properties": {
        "error": {
            "type": "object",
            "required": ["code", "message", "fields"],
            "properties": {
                "code": {"type": "string"},
                "message": {"type": "string"},
                "fields": {"type": "object", "additionalProperties": {"type": "array", "items": {"type": "string"}}},
            },
        }
    },
}
FAULTS = {
    "400": "Not JSON",
    "401": "Not signed in, or not enrolled",
    "403": "Not for this kind of caller",
    "404": "Nothing that the caller may see",
    "409": "Not now: something must be done first",
    "413": "Too much at once",
    "415": "An encoding that is not taken",
    "422": "Fields that are not right, by name",
    "429": "Too many tries; see Retry-After",
    "503": "Nothing can be stored just now; see Retry-After",
}


def json_schema(field: Any, **_: Any) -> dict[str, Any]:
    """What JSON Schema says of one of our own kinds of value."""
    match field:
        case fields.Whole():
            return {"type": "integer", "minimum": field.low, "maximum": field.high}
        case fields.Number():
            return {"type": "number", "minimum": field.low, "maximum": field.high}
        case fields.Name():
            return {"type": "string", "pattern": r"^[A-Za-z0-9._:-]{1,64}$"}
        case fields.Mail():
            return {"type": "string", "format": "email", "minLength": field.least, "maxLength": field.most}
        case fields.Text():
            return {"type": "string", "minLength": field.least, "maxLength": field.most}
        case fields.Choice():
            kind = "integer" if isinstance(field.choices[0], int) else "string"
            return {"type": kind, "enum": list(field.choices)}
        case fields.Flag():
            return {"type": "boolean"}
        case fields.Day():
            return dict(DAY)
        case fields.Clock():
            return {"type": "string", "pattern": "^([01][0-9]|2[0-3]):[0-5][0-9]$"}
        case fields.Offset():
            return {"type": "string", "pattern": "^[+-](0[0-9]|1[0-4]):[0-5][0-9]$"}
        case fields.Several():
            return {"type": "array", "maxItems": field.most}
    return {}


def nullable(field: Any, ret: dict[str, Any], **_: Any) -> dict[str, Any]:
    """`allow_none` said the OpenAPI 3.1 way, also for values out of a fixed set."""
    if field.allow_none and "enum" in ret:
        return {"enum": [*ret["enum"], None]}
    return {}


def with_types(spec: APISpec, plugin: MarshmallowPlugin) -> None:
    converter = plugin.converter
    assert converter is not None
    # Ours runs before apispec's own rule for None, so that "null" joins the type we give.
    converter.attribute_functions.insert(1, lambda field, ret: json_schema(field))
    converter.attribute_functions.append(lambda field, ret: nullable(field, ret))


def describe(app: Flask) -> dict[str, Any]:
    """The OpenAPI document of all routes below /api."""
    plugin = MarshmallowPlugin(schema_name_resolver=lambda schema: _name(schema))
    spec = APISpec(
        title="Plytide",
        version="1",
        openapi_version="3.1.0",
        plugins=[plugin],
        info={"description": "From sock counts to a prosthetist's worklist. Lengths in mm, weights in kg."},
    )
    with_types(spec, plugin)
    spec.components.schema("Error", ERROR)
    spec.components.schema("CheckIn", schema=CheckInSchema)
    spec.components.security_scheme("phone", {"type": "http", "scheme": "bearer"})
    spec.components.security_scheme("staff", {"type": "apiKey", "in": "cookie", "name": "plytide_session"})
    spec.components.security_scheme("csrf", {"type": "apiKey", "in": "header", "name": "X-CSRF-Token"})
    for rule in sorted(app.url_map.iter_rules(), key=lambda rule: str(rule)):
        if not str(rule).startswith("/api/"):
            continue
        for path, fixed in addresses(rule):
            operations = {
                method.lower(): operation(app, rule, method, fixed)
                for method in sorted((rule.methods or set()) - {"HEAD", "OPTIONS"})
            }
            spec.path(path=path, operations=operations)
    return spec.to_dict()


def _name(schema: Any) -> str:
    if isinstance(schema, type):
        return schema.__name__.removesuffix("Schema")
    return type(schema).__name__.removesuffix("Schema") + ("Change" if schema.partial else "")


def addresses(rule: Rule) -> list[tuple[str, str]]:
    """The addresses of a rule in OpenAPI's form; one for each word where a rule takes one of several."""
    text = str(rule)
    words = re.search(r"<any\(([^)]*)\):\w+>", text)
    if not words:
        return [(re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", text), "")]
    return [
        (re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", text.replace(words.group(0), word.strip())), word.strip())
        for word in words.group(1).split(",")
    ]


def operation(app: Flask, rule: Rule, method: str, fixed: str) -> dict[str, Any]:
    view = app.view_functions[rule.endpoint]
    route = route_of(app, rule.endpoint)
    assert route is not None, f"{rule.endpoint} says nothing about itself"
    words = (view.__doc__ or route.called.split(".")[1].replace("_", " ")).strip().splitlines()[0]
    description: dict[str, Any] = {
        "operationId": f"{route.called}{'.' + fixed if fixed else ''}.{method.lower()}",
        "summary": words,
        "responses": {
            **{
                status: {
                    "description": text,
                    "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Error"}}},
                }
                for status, text in FAULTS.items()
            },
            **done(route),
        },
    }
    if route.caller.kind == "phone":
        description["security"] = [{"phone": []}]
    elif route.caller.kind == "staff":
        description["security"] = [{"staff": []} if method == "GET" else {"staff": [], "csrf": []}]
    parameters = [
        {"name": name, "in": "path", "required": True, "schema": {"type": "string"}}
        for name in sorted(rule.arguments)
        if name != "action"
    ]
    parameters += [{"name": name, "in": "query", "schema": schema} for name, schema in route.asks.items()]
    if parameters:
        description["parameters"] = parameters
    body = request_body(route, method)
    if body:
        description["requestBody"] = {"required": True, "content": {"application/json": {"schema": body}}}
    return description


def done(route: Route) -> dict[str, Any]:
    content = {route.gives: {"schema": {"type": "object" if "json" in route.gives else "string"}}}
    codes = route.done if isinstance(route.done, tuple) else (route.done,)
    return {str(code): {"description": "Made" if code == 201 else "Done", "content": content} for code in codes}


def request_body(route: Route, method: str) -> Any:
    if isinstance(route.body, type):
        return route.body(partial=True) if method == "PATCH" else route.body
    return route.body


@route("GET", "/openapi.json", ANYBODY)
def openapi() -> Response:
    """The whole API, OpenAPI 3.1."""
    if "OPENAPI" not in current_app.config:
        current_app.config["OPENAPI"] = describe(current_app)
    return answer(current_app.config["OPENAPI"])
