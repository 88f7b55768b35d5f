"""Who is asking, and what they may see. Cookies open the clinic side only, bearer tokens the phone side only."""

from __future__ import annotations

import hmac
import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from functools import wraps
from ipaddress import IPv4Address, IPv6Network, ip_address
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from flask import current_app, g, request
from sqlite_utils import Database

from plytide import passphrases, second_factor
from plytide.second_factor import Site
from plytide.settings import Settings
from plytide.store import audit, clinics, devices, factors, password_mail, staff, witness
from plytide.store.devices import Device
from plytide.store.registry import Registry, Session, registry_path
from plytide.store.sqlite import borrow, give_back, write
from plytide.store.vault import NoKey

log = logging.getLogger("plytide")

P = ParamSpec("P")
R = TypeVar("R")

CSRF_HEADER = "X-CSRF-Token"
OPEN_WITHOUT = ("session", "staff")  # where a second factor is set up
OPEN_WITH_A_FIRST_PASSWORD = ("session.session", "session.sign_out", "staff.change_password")
SAFE = ("GET", "HEAD", "OPTIONS")
passwords = PasswordHasher()  # Argon2id with the library's own parameters (RFC 9106, low-memory profile)
NOBODY = passwords.hash("nobody has this password")


class Denied(Exception):
    """access: `status` 401, 403, 404 or 429, with words for the user."""

    def __init__(
        self,
        status: int,
        code: str,
        message: str,
        *,
        fields: dict[str, list[str]] | None = None,
        retry_after: int = 0,
    ) -> None:
        super().__init__(message)
        self.status, self.code, self.message, self.fields = status, code, message, fields or {}
        self.retry_after = retry_after


@dataclass(frozen=True, slots=True)
class Staff:
    id: str
    name: str
    role: str
    login: str
    session: Session


def not_found() -> Denied:
    return Denied(404, "not-found", "There is nothing here that you may see.")


def settings() -> Settings:
    return current_app.config["SETTINGS"]  # type: ignore[no-any-return]


def registry() -> Registry:
    """This request's connection to the registry."""
    if "registry" not in g:
        g.registry = Registry(settings().data_dir, _lent(registry_path(settings().data_dir)))
    return g.registry  # type: ignore[no-any-return]


def _lent(path: Path) -> Database:
    """This thread's connection to a file, for this request."""
    borrowed = borrow(path)
    g.setdefault("borrowed", []).append(borrowed)
    return borrowed.db


def clinic_db() -> Database:
    """This request's connection to the caller's clinic. Only after the caller is known."""
    return g.clinic_db  # type: ignore[no-any-return]


def open_clinic(clinic_id: str) -> Database:
    g.clinic_db = _lent(clinics.path_of(settings().data_dir, registry(), clinic_id))
    return clinic_db()


BROWSERS = (("Edg", "Edge"), ("OPR/", "Opera"), ("Firefox", "Firefox"), ("FxiOS", "Firefox"), ("CriOS", "Chrome"), ("Chrome", "Chrome"), ("Safari", "Safari"))
SYSTEMS = (("iPhone", "iPhone"), ("iPad", "iPad"), ("Android", "Android"), ("Windows", "Windows"), ("Mac OS", "Mac"), ("CrOS", "Chromebook"), ("Linux", "Linux"))


def browser_words(agent: str) -> str:
    """Family and platform only, such as "Firefox on Windows": more would tell people apart who need not be."""
    browser = next((words for sign, words in BROWSERS if sign in agent), None)
    system = next((words for sign, words in SYSTEMS if sign in agent), None)
    if browser is None:
        return "unknown browser"
    return f"{browser} on {system}" if system else browser


def tell_audit() -> None:
    """Every line this request writes says which browser asked."""
    audit.asking_from.set(browser_words(request.headers.get("User-Agent", "")[:400]))


def close_files(error: BaseException | None = None) -> None:
    """Give this request's connections back, or close them after a fault: it may have left a read unfinished."""
    audit.asking_from.set("")
    for borrowed in g.pop("borrowed", []):
        give_back(borrowed, sound=error is None and not g.get("fault"))


@contextmanager
def _watched() -> Iterator[None]:
    try:
        yield
    except Denied:
        raise
    except Exception:
        g.fault = True
        raise


def bearer() -> str | None:
    kind, _, token = request.headers.get("Authorization", "").partition(" ")
    return token.strip() if kind.lower() == "bearer" and token.strip() else None


def cookie() -> str | None:
    return request.cookies.get(settings().session_cookie) or None


def _live_session() -> Session | None:
    token = cookie()
    if not token:
        return None
    return registry().session(token, settings().now(), timedelta(seconds=settings().session_idle_seconds))


def _live_device() -> tuple[str, Device] | None:
    token = bearer()
    whose = registry().whose_token(token) if token else None
    if whose is None:
        return None
    db = open_clinic(whose[0])
    device = devices.live_device(db, whose[1])
    return (whose[0], device) if device else None


def phone(view: Callable[P, R]) -> Callable[P, R]:
    """Only an enrolled phone that has not been revoked."""

    @wraps(view)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
        found = _live_device()
        if found is None:
            if bearer() is None and _live_session():
                raise Denied(403, "wrong-kind", "This address is for phones, not for staff.")
            raise Denied(
                401, "not-enrolled", "This phone is not enrolled, or no longer. Ask the clinic for a code."
            )
        g.device = found[1]
        with _watched():
            return view(*args, **kwargs)

    guarded.access = "phone"  # type: ignore[attr-defined]
    return guarded


def device() -> Device:
    return g.device  # type: ignore[no-any-return]


def clinic(*roles: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Only signed-in staff, of one of `roles` when any are named; writes need the CSRF header."""

    def guard(view: Callable[P, R]) -> Callable[P, R]:
        @wraps(view)
        def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
            session = _live_session()
            if session is None:
                if bearer() and registry().whose_token(bearer() or ""):
                    raise Denied(403, "wrong-kind", "This address is for clinic staff, not for phones.")
                raise Denied(401, "signed-out", "Please sign in.")
            row = staff.one(open_clinic(session.clinic_id), session.staff_id)
            if row is None:
                raise Denied(401, "signed-out", "Please sign in.")
            if request.method not in SAFE:
                check_same_origin()
                if not hmac.compare_digest(
                    request.headers.get(CSRF_HEADER, "").encode(), session.csrf.encode()
                ):
                    raise Denied(
                        403, "csrf", f"The page is out of date: reload it. (Header {CSRF_HEADER} is missing.)"
                    )
            if roles and row["role"] not in roles:
                raise Denied(403, "role", "Your role does not allow this. Ask the clinic's manager.")
            g.staff = Staff(row["id"], row["name"], row["role"], row["login"], session)
            if request.endpoint not in OPEN_WITH_A_FIRST_PASSWORD and factors.first_password(registry().db, own()):
                raise Denied(403, "new-password-needed", "Somebody else thought of your password. Choose your own first.")
            if settings().require_second_factor and request.blueprint not in OPEN_WITHOUT:
                if not second_factor.is_set_up(registry().db, own()):
                    words = "This clinic asks for a second factor. Set one up first."
                    raise Denied(403, "second-factor-needed", words)
            with _watched():
                return view(*args, **kwargs)

        guarded.access = roles or ("prosthetist", "assistant", "manager")  # type: ignore[attr-defined]
        return guarded

    return guard


def who() -> Staff:
    return g.staff  # type: ignore[no-any-return]


def check_same_origin() -> None:
    """Refuse a browser's cross-site write, beside the CSRF header."""
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        raise Denied(403, "cross-site", "This request came from another site.")


def from_where() -> str:
    """The caller's address to count by; of IPv6 the first 64 bits, since who has one of them has them all."""
    try:
        address = ip_address(request.remote_addr or "")
    except ValueError:
        return request.remote_addr or "?"
    if isinstance(address, IPv4Address):
        return str(address)
    return str(address.ipv4_mapped or IPv6Network((int(address) >> 64 << 64, 64)))


SIGN_IN_TRIES = 5
ADDRESS_TRIES = 50


def _hold_back(tries: list[tuple[str, str, int]]) -> None:
    """Raises Denied 429 while any of (what, who, free tries) must wait."""
    for what, subject, _ in tries:
        wait = registry().wait_seconds(what, subject, settings().now())
        if wait:
            raise Denied(429, "too-many-tries", f"Too many tries. Wait {wait} seconds.", retry_after=wait)


def _count_failure(tries: list[tuple[str, str, int]]) -> None:
    for what, subject, free in tries:
        registry().failed(what, subject, settings().now(), free)


def _tries(login: str) -> list[tuple[str, str, int]]:
    address = from_where()
    return [("sign-in", login.lower()[:120], SIGN_IN_TRIES), ("sign-in-from", address, ADDRESS_TRIES)]


def _password_holds(row: dict[str, Any] | None, password: str) -> bool:
    """The same work for a name nobody has."""
    try:
        passwords.verify(row["password_hash"] if row else NOBODY, password)
        return row is not None
    except (VerificationError, InvalidHashError):
        return False


def sign_in(login: str, password: str, code: str | None, agent: str) -> tuple[str, Staff]:
    """(secret for the cookie, the member of staff). Same answer and same work for a wrong name as for a wrong password."""
    tries = _tries(login)
    _hold_back(tries)
    whose = registry().whose_login(login)
    row: dict[str, Any] | None = staff.one(open_clinic(whose[0]), whose[1]) if whose else None
    if not _password_holds(row, password) or row is None or whose is None:
        _count_failure(tries)
        log.warning("sign-in refused from %s", request.remote_addr)
        raise Denied(401, "sign-in", "The sign-in name or the password is wrong.")
    first_until = factors.first_password(registry().db, whose)
    if first_until is not None and first_until <= settings().now().isoformat():
        words = "This first password is too old. Ask a manager for a link to choose your own."
        raise Denied(401, "first-password-expired", words, fields={"password": [words]})
    if second_factor.is_set_up(registry().db, whose):
        if not code:
            words = "Enter the code of your app, or one of your recovery codes."
            raise Denied(401, "code-needed", words, fields={"code": [words]})
        if not code_holds(whose, code):
            _count_failure(tries)
            with write(clinic_db()) as db:
                audit.record(db, settings().now(), "nobody", "session.refused", f"staff:{whose[1]}", "wrong code")
            words = "This code is wrong, too old, or has been used."
            raise Denied(401, "code", words, fields={"code": [words]})
    for what, subject, _ in tries:
        registry().succeeded(what, subject)
    return _let_in(whose[0], row, agent)


def code_holds(whose: tuple[str, str], code: str) -> bool:
    try:
        return second_factor.code_holds(registry().db, settings().data_dir, whose, code, settings().now())
    except NoKey as error:
        words = "The server's key file is missing, so app codes can't be checked. Use a recovery code."
        raise Denied(503, "no-key", words, retry_after=60) from error


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


def site() -> Site:
    """Where this app is served, as a browser sees it."""
    return Site((settings().public_url or request.host_url).rstrip("/"))


def sign_in_by_passkey(challenge_id: str, credential: dict[str, Any], agent: str) -> tuple[str, Staff]:
    """As `sign_in`, for a passkey's answer to a challenge."""
    tries = [("passkey-from", from_where(), ADDRESS_TRIES)]
    _hold_back(tries)
    try:
        whose = second_factor.finish_sign_in(registry().db, site(), challenge_id, credential, settings().now())
        row = staff.one(open_clinic(whose[0]), whose[1])
        if row is None:
            raise second_factor.Unproven("has left")
    except second_factor.Unproven as error:
        _count_failure(tries)
        log.warning("passkey refused from %s", request.remote_addr)
        raise Denied(401, "passkey", "This passkey does not open anything here. Try again, or use your password.") from error
    return _let_in(whose[0], row, agent)


def confirm_password(password: str) -> None:
    """Before anything about signing in is changed, the password again. Raises Denied 403."""
    tries = _tries(who().login)
    _hold_back(tries)
    if not _password_holds(staff.one(clinic_db(), who().id), password):
        _count_failure(tries)
        words = "The password is wrong."
        raise Denied(403, "password", words, fields={"password": [words]})


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
    _hold_back(tries)
    _count_failure(tries)
    password_mail.ask(registry().db, name, audit.asking_from.get(), settings().now())


def set_password_by_code(secret: str, password: str, tell: Callable[[Database, dict[str, Any]], None]) -> None:
    """A new password for whoever the secret was made for, once; all their sessions end, their second factor stays.

    `tell` writes, in the same transaction, the mail that says so to the person of the row.
    """
    tries, now = [("password-code", from_where(), 10)], settings().now()
    _hold_back(tries)
    whose = factors.whose_password_code(registry().db, secret, now)
    row = staff.one(open_clinic(whose[0]), whose[1]) if whose else None
    if whose is None or row is None:
        _count_failure(tries)
        raise _no_such_code()
    check_new_password(row, password)
    hashed = passwords.hash(password)
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


def hold_back_codes() -> None:
    """Raises Denied 429 after too many wrong codes."""
    _hold_back(_tries(who().login))


def count_wrong_code() -> None:
    _count_failure(_tries(who().login))


def idle_time() -> timedelta:
    return timedelta(seconds=settings().session_idle_seconds)


def witness_audit(clinic_id: str) -> None:
    """Let the registry see where the clinic's audit chain stands."""
    witness.look(registry(), clinic_id, audit.head(clinic_db()), settings().now())


def may_measure() -> None:
    """Raises Denied 404 unless the caller is on this machine, or has the token for figures."""
    token = settings().metrics_token
    if token is not None:
        if not hmac.compare_digest((bearer() or "").encode(), token.encode()):
            raise not_found()
    elif request.remote_addr not in ("127.0.0.1", "::1") or "X-Forwarded-For" in request.headers:
        raise not_found()


def own() -> tuple[str, str]:
    """(clinic id, staff id) of the member of staff who asks."""
    return who().session.clinic_id, who().id


def enrol(code: str, label: str) -> tuple[str, Device]:
    """(token, phone) for a one-time code. A code works once, expires, and can't be guessed."""
    now, address = settings().now(), from_where()
    wait = registry().wait_seconds("enrol", address, now)
    if wait:
        raise Denied(429, "too-many-tries", f"Too many wrong codes. Wait {wait} seconds.", retry_after=wait)
    used = registry().use_code(code, now)
    if isinstance(used, str):
        registry().failed("enrol", address, now, 10)
        said = {
            "unknown": "This code is not right. Check each letter, or ask the clinic for a new one.",
            "used": "This code has been used. Ask the clinic for a new one.",
            "expired": "This code is too old. Ask the clinic for a new one.",
        }[used]
        raise Denied(422, f"code-{used}", said, fields={"code": [said]})
    registry().succeeded("enrol", address)
    token, device_id, clinic_id, enrolment_id = used
    with write(open_clinic(clinic_id)) as db:
        phone = devices.add_device(db, device_id, enrolment_id, label, now)
        audit.record(db, now, f"device:{phone.id}", "device.enrol", ",".join(phone.person_ids))
    return token, phone
