"""A new clinic with its first member of staff, and more staff later."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from plytide import passphrases
from plytide.access import passwords
from plytide.store import audit, clinics, factors, staff
from plytide.store.registry import LoginTaken, Registry, prepare_registry
from plytide.store.sqlite import write

FIRST_PASSWORD_LASTS = timedelta(hours=72)  # over a weekend; judgement
CODE_LASTS = timedelta(minutes=30)  # judgement


class NoSuchLogin(Exception):
    """founding: nobody signs in by that name."""


def found_clinic(
    data_dir: Path,
    name: str,
    login: str,
    staff_name: str,
    password: str,
    settings: dict[str, Any],
    now: datetime,
) -> tuple[str, str]:
    """(clinic id, staff id). The first is its manager. Raises LoginTaken or passphrases.Refused before anything is made."""
    passphrases.check(password, name, login, staff_name)
    prepare_registry(data_dir)
    registry = Registry(data_dir)
    try:
        if registry.whose_login(login):
            raise LoginTaken(login)
        clinic_id = clinics.add_clinic(data_dir, name, settings, now)
        return clinic_id, _add(data_dir, registry, clinic_id, login, staff_name, "manager", password, now)
    finally:
        registry.close()


def add_member(
    data_dir: Path,
    clinic_of: str,
    login: str,
    staff_name: str,
    role: str,
    password: str | None,
    now: datetime,
    by: str = "operator",
    mail: str | None = None,
) -> str:
    """Another member of staff for the clinic of `clinic_of`; the new id. Without a password nothing opens until one is set.

    A password from anybody but the operator is a first password. Raises LoginTaken, NoSuchLogin or passphrases.Refused.
    """
    registry = Registry(data_dir)
    try:
        known = registry.whose_login(clinic_of)
        if known is None:
            raise NoSuchLogin(clinic_of)
        if registry.whose_login(login):
            raise LoginTaken(login)
        if password is not None:
            passphrases.check(password, clinic_name(data_dir, registry, known[0]), login, staff_name, mail)
        chosen = secrets.token_urlsafe(32) if password is None else password
        staff_id = _add(data_dir, registry, known[0], login, staff_name, role, chosen, now, by, mail)
        if by != "operator":
            factors.password_is_first(registry.db, (known[0], staff_id), now + FIRST_PASSWORD_LASTS)
        return staff_id
    finally:
        registry.close()


def clinic_name(data_dir: Path, registry: Registry, clinic_id: str) -> str:
    db = clinics.open_clinic(data_dir, registry, clinic_id)
    try:
        return str(clinics.clinic_row(db)["name"])
    finally:
        db.close()


def password_code(data_dir: Path, login: str, now: datetime) -> str:
    """A secret with which somebody who forgot their password chooses a new one. Raises NoSuchLogin."""
    registry = Registry(data_dir)
    try:
        whose = registry.whose_login(login)
        if whose is None:
            raise NoSuchLogin(login)
        db = clinics.open_clinic(data_dir, registry, whose[0])
        try:
            if staff.one(db, whose[1]) is None:
                raise NoSuchLogin(login)
            with write(db):
                audit.record(db, now, "operator", "password.code", f"staff:{whose[1]}")
        finally:
            db.close()
        return factors.add_password_code(registry.db, whose, now, CODE_LASTS)
    finally:
        registry.close()


def unlock(data_dir: Path, login: str, now: datetime) -> None:
    """Take away somebody's second factors and sessions, as the operator. Raises NoSuchLogin."""
    registry = Registry(data_dir)
    try:
        whose = registry.whose_login(login)
        if whose is None:
            raise NoSuchLogin(login)
        db = clinics.open_clinic(data_dir, registry, whose[0])
        try:
            with write(db):
                audit.record(db, now, "operator", "second-factor.reset", f"staff:{whose[1]}")
        finally:
            db.close()
        factors.drop_all(registry.db, whose)
        registry.end_sessions(*whose)
    finally:
        registry.close()


def _add(
    data_dir: Path,
    registry: Registry,
    clinic_id: str,
    login: str,
    name: str,
    role: str,
    password: str,
    now: datetime,
    by: str = "operator",
    mail: str | None = None,
) -> str:
    hashed = passwords.hash(password)
    db = clinics.open_clinic(data_dir, registry, clinic_id)
    try:
        with write(db):
            staff_id = staff.add_staff(db, login, name, role, hashed, now, mail)
            audit.record(db, now, by, "staff.add", f"staff:{staff_id}")
    finally:
        db.close()
    registry.add_login(login, clinic_id, staff_id)
    return staff_id
