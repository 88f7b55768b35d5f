"""Environment → one frozen Settings. The only room that reads the environment; the clock enters here too."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from plytide import WEB_ROOT


def utc_now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Settings:
    """How this server runs. Times in seconds, sizes in bytes."""

    data_dir: Path
    web_root: Path = WEB_ROOT
    secure_cookies: bool = False  # on behind TLS: the cookie then carries Secure and the __Host- prefix
    public_url: str | None = None  # what a QR code points to; None: the address the request came to
    session_idle_seconds: int = 30 * 60
    session_seconds: int = 12 * 3600
    enrolment_seconds: int = 24 * 3600
    body_limit: int = 2_000_000
    sync_limit: int = 500
    page_size: int = 500
    sweep_seconds: float = 2.0  # how often the background thread looks for limbs to assess; 0 switches it off
    smtp_url: str | None = None
    mail_from: str = "plytide@localhost"
    push_contact: str = "mailto:plytide@example.org"  # some push services refuse a contact that is no address
    push_local: bool = False  # push to this machine too: for tests
    require_second_factor: bool = False  # staff without one reach nothing but setting one up
    proxies: int = 0  # how many proxies of ours stand in front, each adding one X-Forwarded-For
    metrics_token: str | None = None  # None: figures only for callers on this machine
    metrics_dir: Path | None = None  # where several workers keep their counters; None: a single process
    calls_a_minute: int = 600  # of one phone or session; 0: not counted
    least_free_bytes: int = 50_000_000  # with less on the disk the server says it is not ready
    clinic_bytes: int = 20_000_000_000  # what one clinic may take; beyond it no photos and files
    person_bytes: int = 500_000_000  # of photos of one person
    bytes_an_hour: int = 60_000_000  # what one phone or session may send to each worker
    now: Callable[[], datetime] = field(default=utc_now)

    @property
    def session_cookie(self) -> str:
        return "__Host-plytide_session" if self.secure_cookies else "plytide_session"


def database_key_file() -> Path | None:
    """Where the key of encrypted databases lies; None: they are plain."""
    named = os.environ.get("PLYTIDE_DATABASE_KEY_FILE")
    return Path(named) if named else None


def from_environment(data_dir: Path) -> Settings:
    """Settings for `data_dir`, the rest from PLYTIDE_* variables."""
    public_url = os.environ.get("PLYTIDE_PUBLIC_URL") or None
    return Settings(
        data_dir=data_dir,
        public_url=public_url,
        secure_cookies=bool(public_url and public_url.startswith("https://")),
        sweep_seconds=float(os.environ.get("PLYTIDE_SWEEP_SECONDS") or 2.0),
        smtp_url=os.environ.get("PLYTIDE_SMTP_URL") or None,
        mail_from=os.environ.get("PLYTIDE_MAIL_FROM", "plytide@localhost"),
        require_second_factor=os.environ.get("PLYTIDE_REQUIRE_SECOND_FACTOR") == "1",
        proxies=int(os.environ.get("PLYTIDE_PROXIES") or 0),
        clinic_bytes=int(os.environ.get("PLYTIDE_CLINIC_MB") or 20_000) * 1_000_000,
        calls_a_minute=int(os.environ.get("PLYTIDE_CALLS_A_MINUTE") or 600),
        metrics_token=os.environ.get("PLYTIDE_METRICS_TOKEN") or None,
        metrics_dir=Path(counters) if (counters := os.environ.get("PROMETHEUS_MULTIPROC_DIR")) else None,
        push_contact=os.environ.get("PLYTIDE_PUSH_CONTACT", "mailto:plytide@example.org"),
    )
