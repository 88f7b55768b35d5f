"""A new clinic with its first member of staff, and more staff later."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from plytide.auth import passwords as passphrases
from plytide.auth.password_hash import hash_password
from plytide.storage import audit, clinics, staff
from plytide.storage.registry import second_factor
from plytide.storage.registry.lost import refuse_lost
from plytide.storage.registry.registry import LoginTaken, Registry, prepare_registry
from plytide.storage.sqlite import write
from plytide.wire.clinic_settings import wrong_number
from plytide.wire.staff import SHORTEST_PASSWORD as SHORTEST_PASSWORD

FIRST_PASSWORD_LASTS = timedelta(hours=72)  # over a weekend; judgement
CODE_LASTS = timedelta(minutes=30)  # judgement


@dataclass(frozen=True, slots=True)
class Newcomer:
    """Somebody who joins the staff. Without a password nothing opens until one is set."""

    login: str
    name: str
    role: str
    password: str | None = None
    mail: str | None = None


class NoSuchLogin(Exception):
    """setup: nobody signs in by that name."""


class NotANumber(Exception):
    """setup: (setting, why) of a telephone number that no phone could dial."""


def found_clinic(
    data_dir: Path,
    name: str,
    login: str,
    staff_name: str,
    password: str,
    settings: dict[str, Any],
    now: datetime,
) -> tuple[str, str]:
    """(clinic id, staff id). The first is its manager.

    Raises LoginTaken, NotANumber or passphrases.Refused before anything is made.
    """
    if wrong := wrong_number(settings):
        raise NotANumber(*wrong)
    passphrases.check(password, name, login, staff_name)
    refuse_lost(data_dir)
    prepare_registry(data_dir)
    registry = Registry(data_dir)
    try:
        if registry.whose_login(login):
            raise LoginTaken(login)
        clinic_id = clinics.add_clinic(data_dir, name, settings, now)
        db = clinics.open_clinic(data_dir, registry, clinic_id)
        try:
            first = Newcomer(login, staff_name, "manager", password)
            return clinic_id, _add(registry, clinic_id, db, first, now, "operator")
        finally:
            db.close()
    finally:
        registry.close()


def add_member(data_dir: Path, clinic_of: str, member: Newcomer, now: datetime, by: str = "operator") -> str:
    """Another member of staff for the clinic of `clinic_of`; the new id.

    A password from anybody but the operator is a first password. Raises LoginTaken, NoSuchLogin or passphrases.Refused.
    """
    with _somebody(data_dir, clinic_of) as (registry, (clinic_id, _), db):
        if registry.whose_login(member.login):
            raise LoginTaken(member.login)
        if member.password is not None:
            about = str(clinics.clinic_row(db)["name"]), member.login, member.name, member.mail
            passphrases.check(member.password, *about)
        staff_id = _add(registry, clinic_id, db, member, now, by)
        if by != "operator":
            second_factor.password_is_first(registry.db, (clinic_id, staff_id), now + FIRST_PASSWORD_LASTS)
        return staff_id


@contextmanager
def _somebody(data_dir: Path, login: str) -> Iterator[tuple[Registry, tuple[str, str], Database]]:
    """The registry, whose sign-in name it is, and the file of their clinic. Raises NoSuchLogin."""
    registry = Registry(data_dir)
    try:
        whose = registry.whose_login(login)
        if whose is None:
            raise NoSuchLogin(login)
        db = clinics.open_clinic(data_dir, registry, whose[0])
        try:
            yield registry, whose, db
        finally:
            db.close()
    finally:
        registry.close()


def password_code(data_dir: Path, login: str, now: datetime) -> str:
    """A secret with which somebody who forgot their password chooses a new one. Raises NoSuchLogin."""
    with _somebody(data_dir, login) as (registry, whose, db):
        if staff.one(db, whose[1]) is None:
            raise NoSuchLogin(login)
        with write(db):
            audit.record(db, now, "operator", "password.code", f"staff:{whose[1]}")
        return second_factor.add_password_code(registry.db, whose, now, CODE_LASTS)


def unlock(data_dir: Path, login: str, now: datetime) -> None:
    """Take away somebody's second factors and sessions, as the operator. Raises NoSuchLogin."""
    with _somebody(data_dir, login) as (registry, whose, db):
        with write(db):
            audit.record(db, now, "operator", "second-factor.reset", f"staff:{whose[1]}")
        second_factor.drop_all(registry.db, whose)
        registry.succeeded("sign-in", login.lower())  # nor do they wait for what somebody tried before
        registry.end_sessions(*whose)


def _add(registry: Registry, clinic_id: str, db: Database, member: Newcomer, now: datetime, by: str) -> str:
    hashed = hash_password(secrets.token_urlsafe(32) if member.password is None else member.password)
    with write(db):
        staff_id = staff.add_staff(db, member.login, member.name, member.role, hashed, now, member.mail)
        audit.record(db, now, by, "staff.add", f"staff:{staff_id}")
    registry.add_login(member.login, clinic_id, staff_id)
    return staff_id
