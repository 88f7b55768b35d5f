"""The browser of the journeys: found, fetched where that is allowed, or a line that says how to get it."""

from __future__ import annotations

import fcntl
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HOW = "no Chromium: install Debian's package `chromium`, or run `.venv/bin/playwright install chromium`"
PATIENCE = 60_000  # ms; what takes longer is broken, also on a machine that has other work
NAMES = ("chromium", "chromium-browser", "google-chrome")
ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def on_path() -> str | None:
    return next((found for name in NAMES if (found := shutil.which(name))), None)


def from_debian() -> str | None:
    """Debian's package, as root. None where that is not possible."""
    if os.geteuid() != 0 or not shutil.which("apt-get"):
        return None
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (["apt-get", "update"], ["apt-get", "install", "-y", "chromium"]):
        if not ran(command, environment):
            return None
    return on_path()


def from_playwright(own: str) -> str | None:
    """The download of the test library itself; `own` is where it puts it."""
    if not Path(own).exists():
        ran([sys.executable, "-m", "playwright", "install", "chromium"], dict(os.environ))
    return own if Path(own).exists() else None


def ran(command: list[str], environment: dict[str, str]) -> bool:
    try:
        done = subprocess.run(
            command, env=environment, stdin=subprocess.DEVNULL, capture_output=True, timeout=900, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.returncode == 0


def executable(own: str) -> str | None:
    """Path of a Chromium, fetched if it must be. `own` is where the test library would keep one."""
    if Path(own).exists():
        return on_path() or own
    # One worker fetches while the others wait: a package manager lets nobody else in.
    with (Path(tempfile.gettempdir()) / "plytide-tests-chromium.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        return on_path() or from_debian() or from_playwright(own)
