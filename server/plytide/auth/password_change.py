"""A password is asked for again, or another takes its place: by its owner, or by a link for who forgot it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sqlite_utils import Database

from plytide.auth import passwords as passphrases
from plytide.auth.call import clinic_db, from_where, open_clinic, registry, settings
from plytide.auth.denied import Denied
from plytide.auth.password_hash import hash_password, password_holds
from plytide.auth.session import who
from plytide.auth.tries import claim, took_back, tries_of
from plytide.storage import audit, clinics, staff
from plytide.storage.registry import password_mail
from plytide.storage.registry import second_factor as factors
from plytide.storage.sqlite import write


def confirm_password(password: str) -> None:
    """Before anything about signing in is changed, the password again. Raises Denied 403."""
    tries = tries_of(who().login)
    claim(tries)
    if not password_holds(staff.one(clinic_db(), who().id), password):
        words = "The password is wrong."
        raise Denied(403, "password", words, fields={"password": [words]})
    took_back(tries)


def check_new_password(row: dict[str, Any], password: str) -> None:
    """Raises Denied 422, at `new_password`, for one that is easily guessed. The clinic must be open."""
    try:
        clinic_name = str(clinics.clinic_row(clinic_db())["name"])
        passphrases.check(password, clinic_name, row["login"], row["name"], row["mail"])
    except passphrases.Refused as refused:
        raise Denied(422, "invalid", str(refused), fields={"new_password": [str(refused)]}) from None


LINK_ASKS, LINK_ASKS_FROM = 3, 20  # free ones by name and by address, before they slow down; judgement


def ask_for_link(login: str) -> None:
    """Somebody who forgot their password wants a link by mail. Whether anybody has the name is not looked up here, so
    neither the answer nor its time can tell. Raises Denied 429.
    """
    name, address = login.strip().lower(), from_where()
    tries = [("password-mail", name, LINK_ASKS), ("password-mail-from", address, LINK_ASKS_FROM)]
    claim(tries)
    password_mail.ask(registry().db, name, audit.asking_from.get(), settings().now())


def set_password_by_code(secret: str, password: str, tell: Callable[[Database, dict[str, Any]], None]) -> None:
    """A new password for whoever the secret was made for, once; all their sessions end, their second factor stays.

    `tell` writes, in the same transaction, the mail that says so to the person of the row.
    """
    tries, now = [("password-code", from_where(), 10)], settings().now()
    claim(tries)
    whose = factors.whose_password_code(registry().db, secret, now)
    row = staff.one(open_clinic(whose[0]), whose[1]) if whose else None
    if whose is None or row is None:
        raise _no_such_code()
    took_back(tries)
    check_new_password(row, password)
    hashed = hash_password(password)
    if not factors.take_password_code(registry().db, secret, now):
        raise _no_such_code()
    with write(clinic_db()) as db:
        staff.set_password(db, whose[1], hashed)
        audit.record(db, now, f"staff:{whose[1]}", "password.change", f"staff:{whose[1]}", "by link")
        tell(db, row)
    factors.password_is_own(registry().db, whose)
    registry().end_sessions(*whose)
    registry().succeeded("password-mail", row["login"].lower())


def _no_such_code() -> Denied:
    words = "This link is wrong, too old, or has been used. Ask a manager for a new one."
    return Denied(422, "code", words, fields={"code": [words]})
