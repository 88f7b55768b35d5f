"""Who may call a route, and the door that lets nobody else in.

Cookies open the clinic side only, bearer tokens the phone side only.
"""

from __future__ import annotations

import hmac
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import wraps
from typing import Literal, ParamSpec, TypeVar
from urllib.parse import urlsplit

from flask import g, request

from plytide.auth import second_factor
from plytide.auth.call import bearer, open_clinic, registry, settings, watched
from plytide.auth.denied import Denied, not_found
from plytide.auth.device import live_device, shut_out_phone
from plytide.auth.session import Staff, live_session, own
from plytide.storage import staff
from plytide.storage.registry import second_factor as factors

P = ParamSpec("P")
R = TypeVar("R")
CSRF_HEADER = "X-CSRF-Token"
SAFE = ("GET", "HEAD", "OPTIONS")


@dataclass(frozen=True, slots=True)
class Caller:
    """Who may call a route.

    Staff only when they have set up what the clinic asks for, unless `still_without` says so.
    """

    kind: Literal["anybody", "own pages", "operator", "phone", "staff"]
    roles: tuple[str, ...] = ()
    still_without: Literal["nothing", "second factor", "own password"] = "nothing"

    def only(self, *roles: str) -> Caller:
        return replace(self, roles=roles)


ANYBODY = Caller("anybody")
OWN_PAGES = Caller("own pages")  # anybody, and no browser on another site's behalf: the doors of the clinic
OPERATOR = Caller("operator")  # on this machine, or with the token for figures
PHONE = Caller("phone")  # enrolled, and not revoked
STAFF = Caller("staff", ("prosthetist", "assistant", "manager"))
DECIDERS = STAFF.only("prosthetist", "manager")
MANAGER = STAFF.only("manager")
SETTING_UP = replace(STAFF, still_without="second factor")  # where one is set up
ARRIVING = replace(STAFF, still_without="own password")  # even with a first password somebody else thought of


def guarded(view: Callable[P, R], caller: Caller) -> Callable[P, R]:
    """The view behind its door: only `caller` comes in."""

    @wraps(view)
    def door(*args: P.args, **kwargs: P.kwargs) -> R:
        match caller.kind:
            case "phone":
                _let_phone_in()
            case "staff":
                _let_staff_in(caller)
            case "own pages":
                check_same_origin()
            case "operator":
                may_measure()
        with watched():
            return view(*args, **kwargs)

    return door


def _let_phone_in() -> None:
    found = live_device()
    if found is None:
        if bearer() is None and live_session():
            raise Denied(403, "wrong-kind", "This address is for phones, not for staff.")
        if shut_out := shut_out_phone():
            # The phone forgets its link only at these words, of itself: anything else may come from anybody between.
            words = "The clinic ended this phone's link. Ask the clinic for a code."
            raise Denied(401, "revoked", words, beside={"revoked": {"device_id": shut_out}})
        raise Denied(401, "not-enrolled", "This phone is not enrolled, or no longer. Ask the clinic for a code.")
    g.device = found[1]


def _let_staff_in(caller: Caller) -> None:
    """Signed in, of one of the roles, set up; writes need the CSRF header."""
    session = live_session()
    if session is None:
        if bearer() and registry().whose_token(bearer() or ""):
            raise Denied(403, "wrong-kind", "This address is for clinic staff, not for phones.")
        raise Denied(401, "signed-out", "Please sign in.")
    row = staff.one(open_clinic(session.clinic_id), session.staff_id)
    if row is None:
        raise Denied(401, "signed-out", "Please sign in.")
    if request.method not in SAFE:
        check_same_origin()
        if not hmac.compare_digest(request.headers.get(CSRF_HEADER, "").encode(), session.csrf.encode()):
            raise Denied(403, "csrf", f"The page is out of date: reload it. (Header {CSRF_HEADER} is missing.)")
    if row["role"] not in caller.roles:
        raise Denied(403, "role", "Your role does not allow this. Ask the clinic's manager.")
    g.staff = Staff(row["id"], row["name"], row["role"], row["login"], session)
    if caller.still_without != "own password" and factors.first_password(registry().db, own()):
        raise Denied(403, "new-password-needed", "Somebody else thought of your password. Choose your own first.")
    if settings().require_second_factor and caller.still_without == "nothing":
        if not second_factor.is_set_up(registry().db, own()):
            words = "This clinic asks for a second factor. Set one up first."
            raise Denied(403, "second-factor-needed", words)


def check_same_origin() -> None:
    """Refuse a browser's cross-site write, beside the CSRF header. An older browser says only its Origin, or only the
    page it comes from.
    """
    site = request.headers.get("Sec-Fetch-Site")
    origin = request.headers.get("Origin", request.headers.get("Referer"))
    ours = {request.host, urlsplit(settings().public_url or "").netloc} - {""}
    foreign = (
        site not in ("same-origin", "none") if site else origin is not None and urlsplit(origin).netloc not in ours
    )
    if foreign:
        raise Denied(403, "cross-site", "This request came from another site.")


def may_measure() -> None:
    """Raises Denied 404 unless the caller is on this machine, or has the token for figures."""
    token = settings().metrics_token
    if token is not None:
        if not hmac.compare_digest((bearer() or "").encode(), token.encode()):
            raise not_found()
    elif request.remote_addr not in ("127.0.0.1", "::1") or "X-Forwarded-For" in request.headers:
        raise not_found()
