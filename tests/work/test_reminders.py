"""Reminders go to a real local push endpoint, encrypted, at the person's own times, and say nothing about anybody."""

from __future__ import annotations

import base64
import json
import shutil
import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import http_ece
import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from plytide import WEB_ROOT
from plytide.settings import Settings
from plytide.work import background, reminders
from plytide.work.languages import languages
from tests.actors import Cast, Clock


class PushService(BaseHTTPRequestHandler):
    """Keeps what it is sent; answers with the status it was told to."""

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        headers = {name.lower(): value for name, value in self.headers.items()}
        self.server.got.append((headers, body))  # type: ignore[attr-defined]
        self.send_response(self.server.status)  # type: ignore[attr-defined]
        self.end_headers()

    def log_message(self, *_: Any) -> None:
        pass


@pytest.fixture
def service() -> Iterator[Any]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), PushService)
    server.got, server.status = [], 201  # type: ignore[attr-defined]
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield server
    server.shutdown()
    thread.join()
    server.server_close()


def b64(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


class Browser:
    """A browser's side of a subscription: its keys, and how it reads what comes."""

    def __init__(self, port: int) -> None:
        self.private, self.auth = ec.generate_private_key(ec.SECP256R1()), b"0123456789abcdef"
        point = self.private.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
        self.subscription = {
            "endpoint": f"http://127.0.0.1:{port}/push/1",
            "keys": {"p256dh": b64(point), "auth": b64(self.auth)},
            "expirationTime": None,
        }

    def reads(self, body: bytes) -> Any:
        return json.loads(http_ece.decrypt(body, private_key=self.private, auth_secret=self.auth, version="aes128gcm"))


@pytest.fixture
def local(settings: Settings) -> Settings:
    return replace(settings, push_local=True, public_url="https://plytide.example")


@pytest.fixture
def subscribed(cast: Cast, local: Settings, service: Any) -> Browser:
    cast.app.config["SETTINGS"] = local
    browser = Browser(service.server_port)
    # Noon UTC is 14:00 in Berlin; the evening time is still to come.
    said = {"subscription": browser.subscription, "at": ["07:30", "20:00"], "zone": "Europe/Berlin"}
    answer = cast.anouk.phone.put("/api/push", said)
    assert answer.get_json() == {"next_at": "2025-09-15T18:00:00+00:00"}
    return browser


def test_a_reminder_comes_at_the_persons_own_time_and_names_nobody(
    cast: Cast, local: Settings, service: Any, subscribed: Browser, clock: Clock
) -> None:
    background.sweep(local)
    assert service.got == []
    clock.forward(hours=6, minutes=1)
    background.sweep(local)
    background.sweep(local)
    assert len(service.got) == 1
    headers, body = service.got[0]
    assert headers["authorization"].startswith("vapid t=") and headers["ttl"] == "14400"
    assert b"Plytide" not in body  # encrypted on its way
    message = subscribed.reads(body)
    assert message["web_push"] == 8030
    assert message["notification"] == {
        "title": "Plytide",
        "body": "Time for your check-in.",
        "navigate": "https://plytide.example/phone/",
        "tag": "check-in",
        "lang": "en",
        "dir": "ltr",
    }
    assert cast.anouk.phone.get("/api/push").get_json()["reminders"]["next_at"] == "2025-09-16T05:30:00+00:00"


@pytest.mark.parametrize(
    ("language", "body", "direction"),
    [
        ("en", "Time for your check-in.", "ltr"),
        ("es", "Es hora de anotar.", "ltr"),
        ("de", "Zeit für den Eintrag.", "ltr"),
        ("ar", "حان وقت التسجيل.", "rtl"),
    ],
)
def test_a_reminder_speaks_the_phones_language(
    cast: Cast,
    local: Settings,
    service: Any,
    subscribed: Browser,
    clock: Clock,
    language: str,
    body: str,
    direction: str,
) -> None:
    said = {"subscription": subscribed.subscription, "at": ["20:00"], "zone": "Europe/Berlin", "language": language}
    assert cast.anouk.phone.put("/api/push", said).status_code == 200
    assert cast.anouk.phone.get("/api/push").get_json()["reminders"]["language"] == language
    clock.forward(hours=6, minutes=1)
    background.sweep(local)
    ((_, sealed),) = service.got
    shown = subscribed.reads(sealed)["notification"]
    assert (shown["body"], shown["lang"], shown["dir"]) == (body, language, direction)


def test_a_language_the_phone_app_does_not_speak_is_refused_by_name(cast: Cast, subscribed: Browser) -> None:
    said = {"subscription": subscribed.subscription, "at": ["20:00"], "zone": "UTC", "language": "tlh"}
    answer = cast.anouk.phone.put("/api/push", said)
    assert (answer.status_code, answer.get_json()["error"]["fields"]) == (
        422,
        {"language": ["This must be one of: en, ar, de, es."]},
    )
    assert cast.anouk.phone.get("/api/push").get_json()["reminders"]["language"] == "en"


def test_a_new_word_file_is_a_new_language_and_one_taken_away_is_spoken_to_in_english(
    cast: Cast, local: Settings, service: Any, subscribed: Browser, clock: Clock, tmp_path: Path
) -> None:
    words = tmp_path / "phone" / "words"
    shutil.copytree(WEB_ROOT / "phone" / "words", words)
    (words / "tlh.js").write_text("export default {\n  'remind.body': 'qonos \\'e\\'',\n};\n")
    scratch = replace(local, web_root=tmp_path)
    cast.app.config["SETTINGS"] = scratch
    said = {"subscription": subscribed.subscription, "at": ["20:00", "21:00"], "zone": "UTC", "language": "tlh"}
    assert cast.anouk.phone.put("/api/push", said).status_code == 200
    assert cast.anouk.phone.get("/api/push").get_json()["reminders"]["language"] == "tlh"
    clock.forward(hours=8, minutes=1)
    background.sweep(scratch)
    clock.forward(hours=1)
    background.sweep(local)
    shown = [subscribed.reads(sealed)["notification"] for _, sealed in service.got]
    assert [(one["body"], one["lang"], one["dir"]) for one in shown] == [
        ("qonos 'e'", "tlh", "ltr"),
        ("Time for your check-in.", "en", "ltr"),
    ]


def test_every_language_of_the_phone_app_has_a_reminder() -> None:
    spoken = languages(WEB_ROOT)
    assert set(spoken) == {one.stem for one in (WEB_ROOT / "phone" / "words").glob("*.js")}
    assert len({words["remind.body"] for words in spoken.values()}) == len(spoken)


def test_nobody_is_reminded_of_a_day_that_is_logged(
    cast: Cast, local: Settings, service: Any, subscribed: Browser, clock: Clock
) -> None:
    cast.anouk.sync(cast.anouk.checkin(clock.now.date()))
    clock.forward(hours=6, minutes=1)
    background.sweep(local)
    assert service.got == []


def test_a_pause_is_kept_and_ended(
    cast: Cast, local: Settings, service: Any, subscribed: Browser, clock: Clock
) -> None:
    assert cast.anouk.phone.post("/api/push/pause", {"hours": 12}).status_code == 200
    clock.forward(hours=6, minutes=1)
    background.sweep(local)
    assert service.got == []
    cast.anouk.phone.post("/api/push/pause", {"hours": 0})
    clock.forward(hours=12)
    background.sweep(local)
    assert len(service.got) == 1


def test_a_subscription_that_is_gone_is_forgotten(
    cast: Cast, local: Settings, service: Any, subscribed: Browser, clock: Clock
) -> None:
    service.status = 410
    clock.forward(hours=6, minutes=1)
    background.sweep(local)
    assert cast.anouk.phone.get("/api/push").get_json()["reminders"] is None


def test_a_service_that_fails_costs_one_reminder_and_nothing_else(
    cast: Cast, local: Settings, service: Any, subscribed: Browser, clock: Clock
) -> None:
    service.status = 500
    clock.forward(hours=6, minutes=1)
    background.sweep(local)
    service.status = 201
    clock.forward(hours=12)
    background.sweep(local)
    assert len(service.got) == 2


def test_a_revoked_phone_is_not_reminded(
    cast: Cast, local: Settings, service: Any, subscribed: Browser, clock: Clock
) -> None:
    device = cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/devices").get_json()["devices"][0]["id"]
    cast.ida.delete(f"/api/clinic/devices/{device}")
    clock.forward(hours=6, minutes=1)
    background.sweep(local)
    assert service.got == []


@pytest.mark.parametrize(
    ("at", "start", "end", "quiet"),
    [
        ("21:59", "22:00", "07:00", False),
        ("22:00", "22:00", "07:00", True),
        ("06:59", "22:00", "07:00", True),
        ("07:00", "22:00", "07:00", False),
        ("13:00", "12:00", "14:00", True),
        ("13:00", None, None, False),
    ],
)
def test_quiet_hours(at: str, start: str | None, end: str | None, quiet: bool) -> None:
    assert reminders.is_quiet(at, start, end) is quiet


@pytest.mark.parametrize(
    ("now", "next_at"),
    [
        ("2025-10-25T12:00:00+00:00", "2025-10-26T07:00:00+00:00"),  # the clocks go back that night
        ("2025-03-29T12:00:00+00:00", "2025-03-30T06:00:00+00:00"),  # and forward that one
    ],
)
def test_eight_in_the_morning_stays_eight_over_a_change_of_clocks(now: str, next_at: str) -> None:
    row = {"at": ["08:00"], "zone": "Europe/Berlin"}
    assert reminders.next_time(row, datetime.fromisoformat(now).astimezone(UTC)) == next_at


@pytest.mark.parametrize(
    "endpoint",
    [
        "http://push.example/1",
        "https://127.0.0.1/1",
        "https://10.0.0.8/1",
        "https://localhost/1",
        "https://[::1]/1",
        "https://db.internal/1",
        "file:///etc/passwd",
        "https://intranet/1",
    ],
)
def test_the_server_never_pushes_into_its_own_network(cast: Cast, endpoint: str) -> None:
    said = {
        "subscription": Browser(1).subscription | {"endpoint": endpoint},
        "at": ["08:00"],
        "zone": "UTC",
    }
    answer = cast.anouk.phone.put("/api/push", said)
    assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, ["subscription.endpoint"])


def test_the_servers_key_is_made_once_and_kept_to_its_owner(cast: Cast, settings: Settings) -> None:
    first, again = (cast.anouk.phone.get("/api/push").get_json()["key"] for _ in range(2))
    assert first == again and len(base64.urlsafe_b64decode(first + "==")) == 65
    assert reminders.key_file(settings.data_dir).stat().st_mode & 0o077 == 0
