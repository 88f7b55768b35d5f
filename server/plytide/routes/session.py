"""Staff sign-in and sign-out."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, request

from plytide import access
from plytide.access import Staff, clinic_db, settings, who
from plytide.routes.body import answer, json_object
from plytide.store import audit, clinics, staff
from plytide.store.sqlite import write
from plytide.wire.clinic import SignInSchema, read

bp = Blueprint("session", __name__, url_prefix="/api/clinic")


def said(member: Staff) -> dict[str, Any]:
    clinic = clinics.clinic_row(clinic_db())
    return {
        "staff": {"id": member.id, "name": member.name, "role": member.role, "login": member.login},
        "clinic": {"id": clinic["id"], "name": clinic["name"]},
        "csrf": member.session.csrf,
    }


@bp.post("/session")
def sign_in() -> Response:
    """Name and password for a session cookie."""
    access.check_same_origin()
    given = read(SignInSchema(), json_object())
    token, member = access.sign_in(given["login"], given["password"], request.headers.get("User-Agent", ""))
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"staff:{member.id}", "session.open", "")
    response = answer(said(member))
    response.set_cookie(
        settings().session_cookie,
        token,
        max_age=settings().session_seconds,
        path="/",
        secure=settings().secure_cookies,
        httponly=True,
        samesite="Strict",
    )
    return response


@bp.get("/session")
@access.clinic()
def session() -> Response:
    """Who is signed in, and the token that writes must carry."""
    return answer(said(who()))


@bp.delete("/session")
@access.clinic()
def sign_out() -> Response:
    access.registry().end_session(access.cookie() or "")
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"staff:{who().id}", "session.close", "")
    response = answer({"signed_out": True})
    response.delete_cookie(settings().session_cookie, path="/", secure=settings().secure_cookies, samesite="Strict")
    return response


@bp.get("/staff")
@access.clinic()
def everyone() -> Response:
    return answer({"staff": staff.everyone(clinic_db())})
