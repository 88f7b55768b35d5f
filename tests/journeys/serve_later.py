"""The real server on a clock that a journey moves on: so many days later as a file says."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from plytide.http.server import Server
from plytide.settings import from_environment

if __name__ == "__main__":
    data, later, port = sys.argv[1:4]

    def now() -> datetime:
        return datetime.now(UTC) + timedelta(days=int(Path(later).read_text()))

    settings = replace(from_environment(Path(data)), now=now, sweep_seconds=1)
    Server(settings, "127.0.0.1", int(port), workers=1).run()
