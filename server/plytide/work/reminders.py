"""Reminders by Web Push, at the person's own times. The message says nothing about anybody.

Sent in the declarative form (RFC 8030 push, JSON with `web_push: 8030`), which some browsers show without running
the page's worker; the worker shows it in the others. Every push shows a notification.
"""

from __future__ import annotations

import json
import logging
import os
import re
import socket
from base64 import urlsafe_b64decode
from datetime import UTC, datetime, timedelta
from datetime import time as clock
from functools import cache
from ipaddress import ip_address
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

import requests
from py_vapid import Vapid
from py_vapid.utils import b64urlencode
from pywebpush import WebPushException, webpush
from sqlite_utils import Database

from plytide.settings import Settings
from plytide.storage import push, set_aside
from plytide.storage.sqlite import OperationalError, write
from plytide.wire.zone import zone_named
from plytide.work.languages import FALLBACK, languages

log = logging.getLogger("plytide")

TITLE = "Plytide"
TTL = 4 * 3600  # a reminder that could not be shown for four hours is no longer one
GONE = (404, 410)
TIMEOUT = 10


def key_file(data_dir: Path) -> Path:
    return data_dir / "vapid.pem"


@cache
def keys(data_dir: Path) -> Vapid:
    """The server's push identity (RFC 8292), made on first use and readable by its owner only."""
    path = key_file(data_dir)
    if not path.exists():
        made = Vapid()
        made.generate_keys()
        fresh = path.with_suffix(f".{os.getpid()}")
        with open(os.open(fresh, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600), "wb") as file:
            file.write(made.private_pem())
        try:
            os.link(fresh, path)  # the first of several workers wins
        except FileExistsError:
            pass
        fresh.unlink()
    return Vapid.from_file(str(path))


def public_key(data_dir: Path) -> str:
    """What a browser subscribes with: the uncompressed point, base64url."""
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    point = keys(data_dir).public_key.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    return str(b64urlencode(point))


def may_push_to(endpoint: str, allowed_local: bool) -> bool:
    """Only to push services on the public web: an address of our own network is never a phone's push service."""
    try:
        address = urlsplit(endpoint)
        host, _ = address.hostname or "", address.port
    except ValueError:
        return False
    if not endpoint.isascii() or not endpoint.isprintable() or " " in endpoint:
        return False
    local = host in ("localhost", "127.0.0.1", "::1")
    if allowed_local and local:
        return True
    # A name of the public web: its last part is letters, so no address in any writing (127.1, 0x7f.1), and no lone
    # name.
    named = re.fullmatch(r"([a-z0-9_-]+\.)+[a-z][a-z0-9-]*[a-z0-9]", host) is not None
    return (
        address.scheme == "https" and named and not local and not host.endswith((".local", ".internal", ".localhost"))
    )


def zone_of(row: dict[str, Any]) -> ZoneInfo:
    """The phone's time zone; UTC for one this server does not know (an older version kept any)."""
    return zone_named(row["zone"]) or ZoneInfo("UTC")


def is_public(endpoint: str) -> bool:
    """Whether all that an endpoint's name leads to just now lies on the public net: names can be pointed anywhere."""
    found = socket.getaddrinfo(urlsplit(endpoint).hostname, None, type=socket.SOCK_STREAM)
    return all(ip_address(str(one[4][0]).partition("%")[0]).is_global for one in found)


class _Straight(requests.Session):
    """No detours: what a push service redirects to was looked at by nobody."""

    def post(self, *args: Any, **kwargs: Any) -> requests.Response:
        return super().post(*args, **kwargs, allow_redirects=False)


def next_time(row: dict[str, Any], now: datetime) -> str | None:
    """The next of the person's times, by their own clock, outside their quiet hours; UTC, or None for none."""
    zone = zone_of(row)
    local = now.astimezone(zone)
    for days in (0, 1, 2):
        day = local.date() + timedelta(days=days)
        for at in sorted(row["at"]):
            moment = datetime.combine(day, clock.fromisoformat(at), zone)
            if moment > local and not is_quiet(at, row.get("quiet_from"), row.get("quiet_to")):
                return moment.astimezone(UTC).isoformat()
    return None


def is_point(key: str) -> bool:
    """Whether a subscription's key is a point of the curve all push messages are sealed with (RFC 8291)."""
    from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, EllipticCurvePublicKey

    plain = key.rstrip("=")
    try:
        EllipticCurvePublicKey.from_encoded_point(SECP256R1(), urlsafe_b64decode(plain + "=" * (-len(plain) % 4)))
    except ValueError:
        return False
    return True


def is_quiet(at: str, start: str | None, end: str | None) -> bool:
    if not start or not end:
        return False
    return start <= at < end if start <= end else at >= start or at < end


def send(db: Database, settings: Settings) -> int:
    """Send what is due; how many went out. A subscription that is gone is forgotten; one that fails is set aside by
    itself and tried again, while there is still something to remind of.
    """
    now, count = settings.now(), 0
    for row in push.due(db, now):
        paused = bool(row["paused_until"] and row["paused_until"] > now.isoformat())
        upcoming, gone, why = None, False, None
        try:
            upcoming = next_time(row, now)
            local_day = now.astimezone(zone_of(row)).date().isoformat()
            if not paused and not push.logged_on(db, row["device_id"], local_day):
                one(row["subscription"], row["language"], settings)
                count += 1
        except WebPushException as error:
            status = error.response.status_code if error.response is not None else None
            gone, why = status in GONE, "The push service did not take it."
            log.warning("reminder: not sent: %s", status or "?")
        except OperationalError:
            raise
        except Exception as error:  # what an older version kept, or a service that can't be reached
            reached = isinstance(error, OSError)
            why = "The push service can't be reached." if reached else "The phone's subscription can't be read."
            log.warning("reminder: not sent: %s", type(error).__name__)
        with write(db):
            if gone:
                push.forget(db, row["device_id"])
            elif why is not None:
                again = set_aside.fail(db, "reminder", row["device_id"], why, now).isoformat()
                push.set_next(db, row["device_id"], min(again, upcoming or again), row["paused_until"])
            else:
                push.set_next(db, row["device_id"], upcoming, row["paused_until"] if paused else None)
            if gone or why is None:
                set_aside.well(db, "reminder", [row["device_id"]])
    return count


def one(subscription: dict[str, Any], language: str, settings: Settings) -> None:
    """Encrypt (RFC 8291) and send one reminder in the phone's language, named and with its direction."""
    if not settings.push_local and not (
        may_push_to(subscription["endpoint"], False) and is_public(subscription["endpoint"])
    ):
        raise ValueError("not on the public net")
    page = f"{settings.public_url or ''}/phone/"
    spoken = languages(settings.web_root)
    # A phone keeps its language when the server's files no longer have it: it is reminded in English.
    known = language if language in spoken else FALLBACK
    words = spoken[known]
    shown = {"title": TITLE, "body": words["remind.body"], "navigate": page, "tag": "check-in", "lang": known}
    message = {"web_push": 8030, "notification": shown | {"dir": words["language.direction"]}}
    webpush(
        subscription_info=subscription,
        data=json.dumps(message),
        vapid_private_key=keys(settings.data_dir),
        vapid_claims={"sub": settings.push_contact},
        content_encoding="aes128gcm",
        ttl=TTL,
        timeout=TIMEOUT,
        requests_session=_Straight(),
    )
