"""The whole API as OpenAPI 3.1, made from the routes and the schemas that check them, so that it can't drift."""

from __future__ import annotations

import re
from typing import Any

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin
from flask import Blueprint, Flask, Response, current_app
from werkzeug.routing import Rule

from plytide.model import LEVELS, STATES
from plytide.routes import matters
from plytide.routes.body import answer
from plytide.wire import clinic as wire
from plytide.wire import fields, rights
from plytide.wire import staff as own
from plytide.wire.brought import PhoneFileSchema
from plytide.wire.checkin import SCHEMAS, CheckInSchema
from plytide.wire.fields import Strict

bp = Blueprint("openapi", __name__, url_prefix="/api")

#: The schema that checks each route's body, by endpoint.
BODIES: dict[str, type[Strict]] = {
    "phone.enrol": wire.EnrolSchema,
    "session.sign_in": wire.SignInSchema,
    "session.sign_in_by_passkey": own.PasskeySignInSchema,
    "staff.begin_app": own.PasswordSchema,
    "staff.confirm_app": own.CodeSchema,
    "staff.remove_app": own.PasswordSchema,
    "staff.remove_passkey": own.PasswordSchema,
    "staff.renew_recovery": own.PasswordSchema,
    "staff.begin_passkey": own.PasswordSchema,
    "staff.add_passkey": own.PasskeySchema,
    "session.password_by_code": own.PasswordFromCodeSchema,
    "session.password_mail": own.PasswordMailSchema,
    "staff.change_mail": own.MailSchema,
    "staff.change_password": own.NewPasswordSchema,
    "staff.add_staff": own.StaffSchema,
    "rights.ask": rights.ErasureSchema,
    "rights.confirm": rights.ConfirmSchema,
    "entry.add_person": wire.PersonSchema,
    "entry.change_person": wire.PersonSchema,
    "entry.search_people": wire.PeopleSearchSchema,
    "clinic.search_worklist": wire.WorklistSearchSchema,
    "entry.add_limb": wire.LimbSchema,
    "entry.change_limb": wire.LimbSchema,
    "entry.add_socket": wire.SocketSchema,
    "entry.change_socket": wire.SocketSchema,
    "entry.add_pad": wire.PadSchema,
    "entry.add_suspension": wire.SuspensionSchema,
    "push.put": wire.PushSchema,
    "push.pause": wire.PauseSchema,
    "photos.consent": wire.ConsentSchema,
    "brought.take": PhoneFileSchema,
    "planner.decide": wire.DecisionSchema,
    "planner.change_settings": wire.SettingsSchema,
    "entry.add_measurement": wire.MeasurementSchema,
    "entry.add_intervention": wire.InterventionSchema,
    "corrections.correct_measurement": wire.MeasurementCorrectionSchema,
    "corrections.correct_pad": wire.PadCorrectionSchema,
    "corrections.correct_intervention": wire.InterventionCorrectionSchema,
    "corrections.void": wire.VoidSchema,
    "photos.paper_consent": wire.PaperConsentSchema,
    "entry.add_note": wire.NoteSchema,
    "entry.add_visit": wire.VisitSchema,
    "entry.change_visit": wire.VisitSchema,
    "entry.add_code": wire.EnrolmentSchema,
    "matters.act": wire.SignalActionSchema,
}

DATE = {"type": "string", "format": "date"}
#: What may stand behind the "?" of a route's address.
QUERIES: dict[str, dict[str, Any]] = {
    "clinic.worklist_": {
        "state": {"type": "string", "enum": list(STATES)},
        "level": {"type": "string", "enum": list(LEVELS)},
        "clinician": {"type": "string"},
        "q": {"type": "string"},
        "show": {"type": "string", "enum": list(wire.SHOWS)},
        "limit": {"type": "integer", "minimum": 1, "maximum": 200},
        "next": {"type": "string"},
    },
    "clinic.limb": {"as_of": DATE},
    "clinic.assessment": {"as_of": DATE},
    "matters.undo": {"event": {"type": "string", "enum": list(matters.ACTIONS)}},
    "photos.put": {"limb_id": {"type": "string"}, "checkin_id": {"type": "string"}},
    "planner.plan": {"as_of": DATE},
    "pages.visit": {"as_of": DATE},
    "pages.visit_as_pdf": {"as_of": DATE, "paper": {"type": "string", "enum": ["a4", "letter"]}},
    "pages.payer": {"as_of": DATE},
    "pages.payer_as_pdf": {"as_of": DATE, "paper": {"type": "string", "enum": ["a4", "letter"]}},
    "pages.growth": {"as_of": DATE},
    "records.audit_": {
        "who": {"type": "string"},
        "subject": {"type": "string"},
        "limit": {"type": "integer", "minimum": 1, "maximum": 200},
        "next": {"type": "string"},
    },
    "records.checkins": {"for": {"type": "string", "enum": ["spreadsheet", "analysis"]}},
    "entry.list_people": {
        "q": {"type": "string"},
        "limit": {"type": "integer", "minimum": 1, "maximum": 200},
        "next": {"type": "string"},
    },
}

PDF, JPEG = "application/pdf", "image/jpeg"
#: Answers that are not JSON, by endpoint.
MEDIA = {
    "pages.visit_as_pdf": PDF,
    "pages.payer_as_pdf": PDF,
    "photos.get": JPEG,
    "photos.get_for_clinic": JPEG,
    "records.bundle": "application/fhir+json",
    "records.checkins": "text/csv",
    "rights.as_page": "text/html",
}

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
            return dict(DATE)
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


def sync_body(checkin: dict[str, str]) -> dict[str, Any]:
    return {
        "type": "object",
        "required": ["schema"],
        "additionalProperties": False,
        "properties": {
            "schema": {"type": "integer", "enum": list(SCHEMAS)},
            "cursor": {"type": ["string", "null"]},
            "checkins": {
                "type": "array",
                "maxItems": 500,
                "items": {},
                "description": "Each is checked by itself against CheckIn, and answered by a receipt of its own.",
            },
            "client_now": {"type": "string"},
            "app": {"type": "string"},
        },
        "description": f"Check-ins are {checkin['$ref']}.",
    }


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
    access = getattr(view, "access", None)
    words = (view.__doc__ or rule.endpoint.split(".")[1].replace("_", " ")).strip().splitlines()[0]
    said: dict[str, Any] = {
        "operationId": f"{rule.endpoint}{'.' + fixed if fixed else ''}.{method.lower()}",
        "summary": words,
        "responses": {
            **{
                status: {
                    "description": text,
                    "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Error"}}},
                }
                for status, text in FAULTS.items()
            },
            "200": done(rule.endpoint),
            **({"202": done(rule.endpoint)} if rule.endpoint == "session.password_mail" else {}),
            "201": {"description": "Made", "content": {"application/json": {"schema": {"type": "object"}}}},
        },
    }
    if access == "phone":
        said["security"] = [{"phone": []}]
    elif access:
        said["security"] = [{"staff": []} if method == "GET" else {"staff": [], "csrf": []}]
    parameters = [
        {"name": name, "in": "path", "required": True, "schema": {"type": "string"}}
        for name in sorted(rule.arguments)
        if name != "action"
    ]
    parameters += [
        {"name": name, "in": "query", "schema": schema} for name, schema in QUERIES.get(rule.endpoint, {}).items()
    ]
    if parameters:
        said["parameters"] = parameters
    body = request_body(rule.endpoint, method)
    if body:
        said["requestBody"] = {"required": True, "content": {"application/json": {"schema": body}}}
    return said


def done(endpoint: str) -> dict[str, Any]:
    media = MEDIA.get(endpoint)
    schema = {"type": "string"} if media and "json" not in media else {"type": "object"}
    return {"description": "Done", "content": {media or "application/json": {"schema": schema}}}


def request_body(endpoint: str, method: str) -> Any:
    if endpoint == "phone.sync_":
        return sync_body({"$ref": "#/components/schemas/CheckIn"})
    schema = BODIES.get(endpoint)
    if schema is None or method not in ("POST", "PATCH", "PUT"):
        return None
    return schema(partial=True) if method == "PATCH" else schema


@bp.get("/openapi.json")
def openapi() -> Response:
    """The whole API, OpenAPI 3.1."""
    if "OPENAPI" not in current_app.config:
        current_app.config["OPENAPI"] = describe(current_app)
    return answer(current_app.config["OPENAPI"])
