"""Staff sign-in and sign-out."""

from __future__ import annotations

from typing import Any

from flask import Response, request
from sqlite_utils import Database

from plytide.auth import second_factor
from plytide.auth.call import clinic_db, cookie, registry, settings, site, witness_audit
from plytide.auth.denied import Denied
from plytide.auth.guards import ARRIVING, OWN_PAGES, SETTING_UP
from plytide.auth.password_change import ask_for_link, set_password_by_code
from plytide.auth.session import Staff, open_session, open_session_by_passkey, who
from plytide.http.body import answer
from plytide.http.language import own_words
from plytide.http.route import Routes, checked_body
from plytide.storage import audit, clinics, staff
from plytide.storage.registry import second_factor as factors
from plytide.storage.sqlite import write
from plytide.wire.session import SignInSchema
from plytide.wire.staff import SHORTEST_PASSWORD, PasskeySignInSchema, PasswordFromCodeSchema, PasswordMailSchema
from plytide.work import mail

route = Routes("session", "/api/clinic", room="none")


def staff_to_json(member: Staff) -> dict[str, Any]:
    clinic, words = clinics.clinic_row(clinic_db()), own_words()
    return {
        "staff": {"id": member.id, "name": member.name, "role": member.role, "login": member.login},
        "clinic": {"id": clinic["id"], "name": clinic["name"]},
        "csrf": member.session.csrf,
        "shortest_password": SHORTEST_PASSWORD,
        "signal_words": words.pop("KIND"),
        "words": words,
        "new_password_needed": factors.first_password(registry().db, (clinic["id"], member.id)) is not None,
    }


def opened(token: str, member: Staff, how: str) -> Response:
    """The answer to a sign-in: who it is, and the cookie."""
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"staff:{member.id}", "session.open", "", how)
    witness_audit(member.session.clinic_id)
    response = answer(staff_to_json(member))
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


@route("POST", "/session", OWN_PAGES, body=SignInSchema)
def sign_in() -> Response:
    """Name and password, and a code where a second factor is set up, for a session cookie."""
    given = checked_body()
    agent = request.headers.get("User-Agent", "")
    token, member = open_session(given["login"], given["password"], given.get("code"), agent)
    return opened(token, member, "password and code" if given.get("code") else "password")


@route("POST", "/session/passkey-options", OWN_PAGES)
def passkey_options() -> Response:
    """A challenge for any passkey; it can be answered once, within five minutes."""
    challenge_id, options = second_factor.begin_sign_in(registry().db, site(), settings().now())
    return answer({"challenge_id": challenge_id, "options": options})


@route("POST", "/session/passkey", OWN_PAGES, body=PasskeySignInSchema)
def sign_in_by_passkey() -> Response:
    """A passkey's answer for a session cookie."""
    given = checked_body()
    agent = request.headers.get("User-Agent", "")
    token, member = open_session_by_passkey(given["challenge_id"], given["credential"], agent)
    return opened(token, member, "passkey")


@route("POST", "/password-by-code", OWN_PAGES, body=PasswordFromCodeSchema)
def password_by_code() -> Response:
    """A new password with a one-time code; signing in comes after, with the second factor where there is one."""
    given = checked_body()

    def tell(db: Database, row: dict[str, Any]) -> None:
        mail.tell_of_change(db, settings(), row, "password", settings().now())

    set_password_by_code(given["code"], given["new_password"], tell)
    return answer({"changed": True})


@route("POST", "/password-mail", OWN_PAGES, body=PasswordMailSchema, done=202)
def password_mail() -> Response:
    """A link by mail for who forgot their password. The answer is the same for every name."""
    given = checked_body()
    if not mail.can_send_links(settings()):
        words = "No links are sent by mail here. Ask a manager of your clinic for a link, or whoever runs the server."
        raise Denied(409, "no-mail", words)
    ask_for_link(given["login"])
    words = "If this name is known and has a mail address, a link is on its way. It works once, for 30 minutes."
    return answer({"message": words}, 202)


@route("GET", "/session", ARRIVING)
def session() -> Response:
    """Who is signed in, and the token that writes must carry."""
    return answer(staff_to_json(who()))


@route("DELETE", "/session", ARRIVING)
def sign_out() -> Response:
    registry().end_session(cookie() or "")
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"staff:{who().id}", "session.close", "")
    response = answer({"signed_out": True})
    response.delete_cookie(settings().session_cookie, path="/", secure=settings().secure_cookies, samesite="Strict")
    return response


@route("GET", "/staff", SETTING_UP)
def everyone() -> Response:
    return answer({"staff": staff.everyone(clinic_db())})
