"""create_app(settings): the rooms wired together, one error shape, one set of headers."""

from __future__ import annotations

import logging
import traceback
from functools import cache
from typing import Any

from flask import Flask, Response, request
from werkzeug.exceptions import HTTPException
from werkzeug.middleware.proxy_fix import ProxyFix

from plytide.auth import rate_limit, room
from plytide.auth.call import close_files, settings, tell_audit
from plytide.auth.denied import Denied, not_found
from plytide.http import (
    agreement,
    assessment,
    calendar_feed,
    caseload,
    chair_time,
    clinic_settings,
    component,
    contact,
    corrections,
    decisions,
    device,
    hand_over,
    healing,
    intervention,
    letter,
    limb,
    making,
    measurement,
    message,
    note,
    openapi,
    operation,
    outcome_measure,
    own_record,
    pad,
    pages,
    part,
    person,
    person_rights,
    phone,
    phone_file,
    photos,
    plan,
    pocket,
    push,
    records,
    session,
    signals,
    socket,
    staff,
    stock,
    story,
    visit,
    web_files,
    worklist,
)
from plytide.http.body import answer
from plytide.http.route import cost_here, need_here
from plytide.settings import Settings
from plytide.storage.clinics import Unavailable, prepare_all
from plytide.storage.sqlite import DatabaseError, OperationalError
from plytide.wire.checkin import Refused
from plytide.work.refusal import Missing, Refusal, StandsAgainst

log = logging.getLogger("plytide")

#: Every route of the app, by the file it stands in.
ROUTES = (
    phone.route,
    session.route,
    staff.route,
    hand_over.route,
    worklist.route,
    story.route,
    assessment.route,
    person.route,
    limb.route,
    socket.route,
    pad.route,
    part.route,
    component.route,
    measurement.route,
    intervention.route,
    note.route,
    visit.route,
    letter.route,
    calendar_feed.route,
    caseload.route,
    contact.route,
    message.route,
    pocket.route,
    healing.route,
    outcome_measure.route,
    device.route,
    corrections.route,
    signals.route,
    plan.route,
    decisions.route,
    chair_time.route,
    own_record.route,
    stock.route,
    making.route,
    clinic_settings.route,
    agreement.route,
    pages.route,
    photos.route,
    phone_file.route,
    push.route,
    records.route,
    person_rights.route,
    operation.route,
    openapi.route,
    web_files.route,
)

HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:;"
    " connect-src 'self'; font-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self';"
    " frame-ancestors 'none'; base-uri 'none'; object-src 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
}
MESSAGES = {
    404: ("not-found", "There is nothing at this address."),
    405: ("method", "This address does not take that kind of call."),
    413: ("too-large", "This is too much at once."),
    415: ("media-type", "Send JSON."),
}


def error(
    status: int,
    code: str,
    message: str,
    fields: dict[str, list[str]] | None = None,
    beside: dict[str, Any] | None = None,
) -> Response:
    return answer({"error": {"code": code, "message": message, "fields": fields or {}}, **(beside or {})}, status)


def without_words(record: logging.LogRecord) -> bool:
    """Where a fault came from, line by line, without its message: that may hold what a person wrote."""
    if record.exc_info and record.exc_info[0]:
        record.exc_text = "".join(traceback.format_tb(record.exc_info[2])) + record.exc_info[0].__name__
    return True


@cache
def routed() -> Flask:
    """All routes, once a process: they are the same over every data folder, and reading them costs more than all else
    an app is made of."""
    app = Flask("plytide", static_folder=None)
    app.url_map.merge_slashes = False  # else an address with one too many is answered with a page and the caller's Host
    for routes in ROUTES:
        app.register_blueprint(routes.blueprint)
    return app


def create_app(settings: Settings) -> Flask:
    """The whole server. Call `prepare_all` first when several workers start together."""
    prepare_all(settings.data_dir)
    log.addFilter(without_words)
    app, known = Flask("plytide", static_folder=None), routed()
    app.url_map, app.view_functions, app.blueprints = known.url_map, known.view_functions, known.blueprints
    app.config["SETTINGS"] = settings
    app.config["MAX_CONTENT_LENGTH"] = settings.body_limit + 1
    if settings.proxies:
        behind = ProxyFix(app.wsgi_app, x_for=settings.proxies, x_proto=settings.proxies)
        app.wsgi_app = behind  # type: ignore[method-assign]
    rate_limit.keep(app, cost_here)
    room.keep(app, need_here)
    app.before_request(tell_audit)
    app.teardown_appcontext(close_files)
    app.after_request(with_headers)
    app.register_error_handler(Denied, on_denied)
    app.register_error_handler(Refused, on_refused)
    app.register_error_handler(Refusal, on_refusal)
    app.register_error_handler(Missing, on_missing)
    app.register_error_handler(StandsAgainst, on_stands_against)
    app.register_error_handler(HTTPException, on_http)
    app.register_error_handler(DatabaseError, on_database)
    app.register_error_handler(Unavailable, on_unavailable)
    app.register_error_handler(Exception, on_fault)
    return app


def with_headers(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if request.path.startswith("/api/"):
        response.headers.setdefault("Cache-Control", "no-store")
    if settings().secure_cookies:
        response.headers["Strict-Transport-Security"] = "max-age=63072000; includeSubDomains"
    return response


def on_denied(denied: Denied) -> Response:
    if denied.status == 403:
        log.warning("refused: %s at %s %s", denied.code, request.method, request.url_rule)
    response = error(denied.status, denied.code, denied.message, denied.fields, denied.beside)
    if denied.retry_after:
        response.headers["Retry-After"] = str(denied.retry_after)
    return response


def on_refused(refused: Refused) -> Response:
    return error(422, "invalid", "Some fields are not right.", refused.errors)


def on_refusal(refusal: Refusal) -> Response:
    return error(422, "invalid", refusal.message, {refusal.field: [refusal.words]})


def on_missing(_: Missing) -> Response:
    return on_denied(not_found())


def on_stands_against(raised: StandsAgainst) -> Response:
    texts = [one["text"] for one in raised.against]
    return error(409, raised.code, raised.message, {raised.field: texts}, {"against": raised.against})


def on_http(raised: HTTPException) -> Response:
    status = raised.code or 500
    if 300 <= status < 400:
        return raised.get_response()  # type: ignore[return-value]
    code, message = MESSAGES.get(status, ("http", "This call can't be answered."))
    response = error(status, code, message)
    if status == 405 and (allowed := getattr(raised, "valid_methods", None)):
        response.headers["Allow"] = ", ".join(sorted(allowed))
    return response


UNAVAILABLE = {
    "staff": "The clinic's data can't be opened just now. Whoever runs the server has to look: plytide check says what "
    "is wrong. Your password is not the matter.",
    "phone": "Your clinic's server can't open its data just now. What you log stays on this phone and is sent later.",
}
DAMAGED = ("no such table", "no such column", "malformed", "not a database", "not encrypted", "is not a plain")


def on_unavailable(raised: Exception) -> Response:
    """The caller's clinic is known, and its file is lost or damaged: nothing is made in its place."""
    log.error("clinic unavailable: %s", raised)
    side = "staff" if request.path.startswith("/api/clinic") else "phone"
    response = error(503, "clinic-unavailable", UNAVAILABLE[side])
    response.headers["Retry-After"] = "60"
    return response


def on_database(raised: Exception) -> Response:
    """Busy, full or read-only: nothing was kept, the phone keeps its own and tries again."""
    if any(words in str(raised) for words in DAMAGED):
        return on_unavailable(raised)
    log.error("database: %s: %s", type(raised).__name__, raised)
    if isinstance(raised, OperationalError) or "full" in str(raised) or "readonly" in str(raised):
        response = error(
            503, "storage", "The clinic's server can't store anything just now. Nothing is lost: try again."
        )
        response.headers["Retry-After"] = "10"
        return response
    return error(500, "fault", "Something went wrong on the server. Nothing of this call was kept.")


def on_fault(raised: Exception) -> Response:
    log.error("fault: %s at %s %s", type(raised).__name__, request.method, request.url_rule, exc_info=raised)
    return error(500, "fault", "Something went wrong on the server. Nothing of this call was kept.")
