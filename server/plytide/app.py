"""create_app(settings): the rooms wired together, one error shape, one set of headers."""

from __future__ import annotations

import logging
import traceback

from flask import Flask, Response, request
from werkzeug.exceptions import HTTPException
from werkzeug.middleware.proxy_fix import ProxyFix

from plytide import access, pace
from plytide.access import Denied
from plytide.routes import (
    brought,
    clinic,
    corrections,
    entry,
    matters,
    openapi,
    ops,
    pages,
    phone,
    photos,
    planner,
    push,
    records,
    rights,
    session,
    shell,
    staff,
)
from plytide.routes.body import answer
from plytide.settings import Settings
from plytide.store.clinics import prepare_all
from plytide.store.sqlite import DatabaseError, OperationalError
from plytide.wire.checkin import Refused

log = logging.getLogger("plytide")

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


def error(status: int, code: str, message: str, fields: dict[str, list[str]] | None = None) -> Response:
    return answer({"error": {"code": code, "message": message, "fields": fields or {}}}, status)


def without_words(record: logging.LogRecord) -> bool:
    """Where a fault came from, line by line, without its message: that may hold what a person wrote."""
    if record.exc_info and record.exc_info[0]:
        record.exc_text = "".join(traceback.format_tb(record.exc_info[2])) + record.exc_info[0].__name__
    return True


def create_app(settings: Settings) -> Flask:
    """The whole server. Call `prepare_all` first when several workers start together."""
    prepare_all(settings.data_dir)
    log.addFilter(without_words)
    app = Flask("plytide", static_folder=None)
    app.config["SETTINGS"] = settings
    app.config["MAX_CONTENT_LENGTH"] = settings.body_limit + 1
    for blueprint in (
        phone.bp,
        session.bp,
        staff.bp,
        clinic.bp,
        corrections.bp,
        entry.bp,
        matters.bp,
        planner.bp,
        pages.bp,
        photos.bp,
        brought.bp,
        push.bp,
        records.bp,
        rights.bp,
        ops.bp,
        openapi.bp,
        shell.bp,
    ):
        app.register_blueprint(blueprint)
    if settings.proxies:
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=settings.proxies, x_proto=settings.proxies)  # type: ignore[method-assign]
    pace.keep(app)
    app.before_request(access.tell_audit)
    app.teardown_appcontext(access.close_files)
    app.after_request(with_headers)
    app.register_error_handler(Denied, on_denied)
    app.register_error_handler(Refused, on_refused)
    app.register_error_handler(HTTPException, on_http)
    app.register_error_handler(DatabaseError, on_database)
    app.register_error_handler(Exception, on_fault)
    return app


def with_headers(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if request.path.startswith("/api/"):
        response.headers.setdefault("Cache-Control", "no-store")
    if access.settings().secure_cookies:
        response.headers["Strict-Transport-Security"] = "max-age=63072000; includeSubDomains"
    return response


def on_denied(denied: Denied) -> Response:
    if denied.status == 403:
        log.warning("refused: %s at %s %s", denied.code, request.method, request.url_rule)
    response = error(denied.status, denied.code, denied.message, denied.fields)
    if denied.retry_after:
        response.headers["Retry-After"] = str(denied.retry_after)
    return response


def on_refused(refused: Refused) -> Response:
    return error(422, "invalid", "Some fields are not right.", refused.errors)


def on_http(raised: HTTPException) -> Response:
    status = raised.code or 500
    if 300 <= status < 400:
        return raised.get_response()  # type: ignore[return-value]
    code, message = MESSAGES.get(status, ("http", "This call can't be answered."))
    response = error(status, code, message)
    if status == 405 and (allowed := getattr(raised, "valid_methods", None)):
        response.headers["Allow"] = ", ".join(sorted(allowed))
    return response


def on_database(raised: Exception) -> Response:
    """Busy, full or read-only: nothing was kept, the phone keeps its own and tries again."""
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
