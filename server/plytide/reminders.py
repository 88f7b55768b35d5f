"""Reminders by Web Push, at the person's own times. The message says nothing about anybody.

Sent in the declarative form (RFC 8030 push, JSON with `web_push: 8030`), which some browsers show without running
the page's worker; the worker shows it in the others. Every push shows a notification.
"""

from __future__ import annotations

import json
import logging
import os
from datetime import UTC, datetime, timedelta
from datetime import time as clock
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from py_vapid import Vapid
from py_vapid.utils import b64urlencode
from pywebpush import WebPushException, webpush
from sqlite_utils import Database

from plytide.settings import Settings
from plytide.store import push
from plytide.store.sqlite import write

log = logging.getLogger("plytide")

TITLE = "Plytide"
BODY = {
    "en": "Time for your check-in.",
    "es": "Es hora de anotar.",
    "de": "Zeit für den Eintrag.",
    "ar": "حان وقت التسجيل.",
}
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
    address = urlsplit(endpoint)
    host = address.hostname or ""
    local = host in ("localhost", "127.0.0.1", "::1")
    if allowed_local and local:
        return True
    named = "." in host and not host.replace(".", "").isdigit() and ":" not in host
    return (
        address.scheme == "https" and named and not local and not host.endswith((".local", ".internal", ".localhost"))
    )


def next_time(row: dict[str, Any], now: datetime) -> str | None:
    """The next of the person's times, by their own clock, outside their quiet hours; UTC, or None for none."""
    try:
        zone = ZoneInfo(row["zone"])
    except (ZoneInfoNotFoundError, ValueError, OSError):
        zone = ZoneInfo("UTC")
    local = now.astimezone(zone)
    for days in (0, 1, 2):
        day = local.date() + timedelta(days=days)
        for at in sorted(row["at"]):
            moment = datetime.combine(day, clock.fromisoformat(at), zone)
            if moment > local and not is_quiet(at, row.get("quiet_from"), row.get("quiet_to")):
                return moment.astimezone(UTC).isoformat()
    return None


def is_quiet(at: str, start: str | None, end: str | None) -> bool:
    if not start or not end:
        return False
    return start <= at < end if start <= end else at >= start or at < end


def send(db: Database, settings: Settings) -> int:
    """Send what is due; how many went out. A subscription that is gone is forgotten, a failure waits for the next."""
    now, count = settings.now(), 0
    for row in push.due(db, now):
        upcoming = next_time(row, now)
        local_day = now.astimezone(ZoneInfo(row["zone"])).date().isoformat()
        paused = bool(row["paused_until"] and row["paused_until"] > now.isoformat())
        gone = False
        if not paused and not push.logged_on(db, row["device_id"], local_day):
            try:
                one(row["subscription"], row["language"], settings)
                count += 1
            except WebPushException as error:
                gone = error.response is not None and error.response.status_code in GONE
                log.warning("reminder: not sent: %s", error.response.status_code if error.response is not None else "?")
            except (OSError, ValueError) as error:
                log.warning("reminder: not sent: %s", type(error).__name__)
        with write(db):
            if gone:
                push.forget(db, row["device_id"])
            else:
                push.set_next(db, row["device_id"], upcoming, row["paused_until"] if paused else None)
    return count


def one(subscription: dict[str, Any], language: str, settings: Settings) -> None:
    """Encrypt (RFC 8291) and send one reminder in the phone's language, named and with its direction."""
    page = f"{settings.public_url or ''}/phone/"
    shown = {"title": TITLE, "body": BODY[language], "navigate": page, "tag": "check-in", "lang": language}
    message = {"web_push": 8030, "notification": shown | {"dir": "rtl" if language == "ar" else "ltr"}}
    webpush(
        subscription_info=subscription,
        data=json.dumps(message),
        vapid_private_key=keys(settings.data_dir),
        vapid_claims={"sub": settings.push_contact},
        content_encoding="aes128gcm",
        ttl=TTL,
        timeout=TIMEOUT,
    )
