"""This call: the settings, the files it has open, what it carries and where it comes from."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from ipaddress import IPv4Address, IPv6Network, ip_address

from flask import current_app, g, request
from sqlite_utils import Database

from plytide.auth.browser import browser_words
from plytide.auth.denied import Denied
from plytide.auth.second_factor import Site
from plytide.settings import Settings
from plytide.storage import audit, clinics
from plytide.storage.registry import witness
from plytide.storage.registry.registry import Registry, registry_path
from plytide.storage.sqlite import Borrowed, borrow, give_back


def settings() -> Settings:
    return current_app.config["SETTINGS"]  # type: ignore[no-any-return]


def registry() -> Registry:
    """This request's connection to the registry."""
    if "registry" not in g:
        try:
            g.registry = Registry(settings().data_dir, _lent(borrow(registry_path(settings().data_dir))))
        except FileNotFoundError as error:
            words = "The server can't open its files just now. Nothing is lost: try again later."
            raise Denied(503, "unavailable", words, retry_after=60) from error
    return g.registry  # type: ignore[no-any-return]


def _lent(borrowed: Borrowed) -> Database:
    """This thread's connection to a file, for this request."""
    g.setdefault("borrowed", []).append(borrowed)
    return borrowed.db


def clinic_db() -> Database:
    """This request's connection to the caller's clinic. Only after the caller is known."""
    return g.clinic_db  # type: ignore[no-any-return]


def open_clinic(clinic_id: str) -> Database:
    """Raises Unavailable where the clinic's file is lost."""
    g.clinic_db = _lent(clinics.lend(settings().data_dir, registry(), clinic_id))
    return clinic_db()


def close_files(error: BaseException | None = None) -> None:
    """Give this request's connections back, or close them after a fault: it may have left a read unfinished."""
    audit.asking_from.set("")
    for borrowed in g.pop("borrowed", []):
        give_back(borrowed, sound=error is None and not g.get("fault"))


@contextmanager
def watched() -> Iterator[None]:
    """A fault inside is remembered for `close_files`; a refusal is none."""
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


def from_where() -> str:
    """The caller's address to count by; of IPv6 the first 64 bits, since who has one of them has them all."""
    try:
        address = ip_address(request.remote_addr or "")
    except ValueError:
        return request.remote_addr or "?"
    if isinstance(address, IPv4Address):
        return str(address)
    return str(address.ipv4_mapped or IPv6Network((int(address) >> 64 << 64, 64)))


def site() -> Site:
    """Where this app is served, as a browser sees it."""
    return Site((settings().public_url or request.host_url).rstrip("/"))


def tell_audit() -> None:
    """Every line this request writes says which browser asked."""
    audit.asking_from.set(browser_words(request.headers.get("User-Agent", "")[:400]))


def witness_audit(clinic_id: str) -> None:
    """Let the registry see where the clinic's audit chain stands."""
    witness.look(registry(), clinic_id, audit.head(clinic_db()), settings().now())
