"""Staff: signing in, the session that follows, and who has it."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from flask import g, request

from plytide.auth import second_factor
from plytide.auth.call import clinic_db, cookie, from_where, open_clinic, registry, settings, site
from plytide.auth.denied import Denied
from plytide.auth.password_hash import password_holds
from plytide.auth.tries import ADDRESS_TRIES, claim, took_back, tries_of
from plytide.storage import audit, staff
from plytide.storage.files.secrets_key import NoKey
from plytide.storage.registry import second_factor as factors
from plytide.storage.registry.registry import Session
from plytide.storage.sqlite import write

log = logging.getLogger("plytide")


@dataclass(frozen=True, slots=True)
class Staff:
    id: str
    name: str
    role: str
    login: str
    session: Session


def who() -> Staff:
    return g.staff  # type: ignore[no-any-return]


def own() -> tuple[str, str]:
    """(clinic id, staff id) of the member of staff who asks."""
    return who().session.clinic_id, who().id


def live_session() -> Session | None:
    token = cookie()
    if not token:
        return None
    return registry().session(token, settings().now(), idle_time())


def idle_time() -> timedelta:
    return timedelta(seconds=settings().session_idle_seconds)


def open_session(login: str, password: str, code: str | None, agent: str) -> tuple[str, Staff]:
    """(secret for the cookie, the member of staff).

    Same answer and same work for a wrong name as for a wrong password.
    """
    tries = tries_of(login)
    claim(tries)
    whose = registry().whose_login(login)
    row: dict[str, Any] | None = staff.one(open_clinic(whose[0]), whose[1]) if whose else None
    if not password_holds(row, password) or row is None or whose is None:
        log.warning("sign-in refused from %s", request.remote_addr)
        raise Denied(401, "sign-in", "The sign-in name or the password is wrong.")
    first_until = factors.first_password(registry().db, whose)
    if first_until is not None and first_until <= settings().now().isoformat():
        took_back(tries)
        words = "This first password is too old. Ask a manager for a link to choose your own."
        raise Denied(401, "first-password-expired", words, fields={"password": [words]})
    if second_factor.is_set_up(registry().db, whose):
        if not code:
            took_back(tries)
            words = "Enter the code of your app, or one of your recovery codes."
            raise Denied(401, "code-needed", words, fields={"code": [words]})
        if not code_holds(whose, code):
            with write(clinic_db()) as db:
                audit.record(db, settings().now(), "nobody", "session.refused", f"staff:{whose[1]}", "wrong code")
            words = "This code is wrong, too old, or has been used."
            raise Denied(401, "code", words, fields={"code": [words]})
    for what, subject, _ in tries:
        registry().succeeded(what, subject)
    return _let_in(whose[0], row, agent)


def open_session_by_passkey(challenge_id: str, credential: dict[str, Any], agent: str) -> tuple[str, Staff]:
    """As `open_session`, for a passkey's answer to a challenge."""
    tries = [("passkey-from", from_where(), ADDRESS_TRIES)]
    claim(tries)
    try:
        whose = second_factor.finish_sign_in(registry().db, site(), challenge_id, credential, settings().now())
        row = staff.one(open_clinic(whose[0]), whose[1])
        if row is None:
            raise second_factor.Unproven("has left")
    except second_factor.Unproven as error:
        log.warning("passkey refused from %s", request.remote_addr)
        raise Denied(
            401, "passkey", "This passkey does not open anything here. Try again, or use your password."
        ) from error
    took_back(tries)
    return _let_in(whose[0], row, agent)


def _let_in(clinic_id: str, row: dict[str, Any], agent: str) -> tuple[str, Staff]:
    """A new session of its own secret: nothing from before the sign-in carries over."""
    token, session = registry().open_session(
        clinic_id, row["id"], agent, settings().now(), timedelta(seconds=settings().session_seconds)
    )
    # A new password ends all sessions: one that was being opened with the former at that moment must not outlive it.
    still = staff.one(clinic_db(), row["id"])
    if still is None or still["password_hash"] != row["password_hash"]:
        registry().end_session(token)
        raise Denied(401, "sign-in", "The sign-in name or the password is wrong.")
    return token, Staff(row["id"], row["name"], row["role"], row["login"], session)


def code_holds(whose: tuple[str, str], code: str) -> bool:
    try:
        return second_factor.code_holds(registry().db, settings().data_dir, whose, code, settings().now())
    except NoKey as error:
        words = "The server's key file is missing, so app codes can't be checked. Use a recovery code."
        raise Denied(503, "no-key", words, retry_after=60) from error


def claim_code() -> None:
    """Count a try at a code. Raises Denied 429 after too many wrong ones."""
    claim(tries_of(who().login))


def code_was_right() -> None:
    took_back(tries_of(who().login))
