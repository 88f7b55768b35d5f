"""Staff sign-in and sign-out."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, request
from sqlite_utils import Database

from plytide import access, notify, second_factor
from plytide.access import Denied, Staff, clinic_db, settings, who
from plytide.routes.body import answer, json_object
from plytide.store import audit, clinics, factors, staff
from plytide.store.sqlite import write
from plytide.wire.clinic import SignInSchema, read
from plytide.wire.staff import PasskeySignInSchema, PasswordFromCodeSchema, PasswordMailSchema

bp = Blueprint("session", __name__, url_prefix="/api/clinic")


def said(member: Staff) -> dict[str, Any]:
    clinic = clinics.clinic_row(clinic_db())
    return {
        "staff": {"id": member.id, "name": member.name, "role": member.role, "login": member.login},
        "clinic": {"id": clinic["id"], "name": clinic["name"]},
        "csrf": member.session.csrf,
        "new_password_needed": factors.first_password(access.registry().db, (clinic["id"], member.id)) is not None,
    }


def opened(token: str, member: Staff, how: str) -> Response:
    """The answer to a sign-in: who it is, and the cookie."""
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"staff:{member.id}", "session.open", "", how)
    access.witness_audit(member.session.clinic_id)
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


@bp.post("/session")
def sign_in() -> Response:
    """Name and password, and a code where a second factor is set up, for a session cookie."""
    access.check_same_origin()
    given = read(SignInSchema(), json_object())
    agent = request.headers.get("User-Agent", "")
    token, member = access.sign_in(given["login"], given["password"], given.get("code"), agent)
    return opened(token, member, "password and code" if given.get("code") else "password")


@bp.post("/session/passkey-options")
def passkey_options() -> Response:
    """A challenge for any passkey; it can be answered once, within five minutes."""
    access.check_same_origin()
    challenge_id, options = second_factor.begin_sign_in(access.registry().db, access.site(), settings().now())
    return answer({"challenge_id": challenge_id, "options": options})


@bp.post("/session/passkey")
def sign_in_by_passkey() -> Response:
    """A passkey's answer for a session cookie."""
    access.check_same_origin()
    given = read(PasskeySignInSchema(), json_object())
    agent = request.headers.get("User-Agent", "")
    token, member = access.sign_in_by_passkey(given["challenge_id"], given["credential"], agent)
    return opened(token, member, "passkey")


@bp.post("/password-by-code")
def password_by_code() -> Response:
    """A new password with a one-time code; signing in comes after, with the second factor where there is one."""
    access.check_same_origin()
    given = read(PasswordFromCodeSchema(), json_object())

    def tell(db: Database, row: dict[str, Any]) -> None:
        notify.tell_of_change(db, settings(), row, "password", settings().now())

    access.set_password_by_code(given["code"], given["new_password"], tell)
    return answer({"changed": True})


@bp.post("/password-mail")
def password_mail() -> Response:
    """A link by mail for who forgot their password. The answer is the same for every name."""
    access.check_same_origin()
    given = read(PasswordMailSchema(), json_object())
    if not notify.can_send_links(settings()):
        words = "No links are sent by mail here. Ask a manager of your clinic for a link, or whoever runs the server."
        raise Denied(409, "no-mail", words)
    access.ask_for_link(given["login"])
    words = "If this name is known and has a mail address, a link is on its way. It works once, for 30 minutes."
    return answer({"message": words}, 202)


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
