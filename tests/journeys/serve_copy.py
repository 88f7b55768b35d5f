"""The real server on a copy of the web files, so that a journey can deploy a new version while it runs."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

from plytide.http.server import Server
from plytide.settings import from_environment

if __name__ == "__main__":
    data, web, port = sys.argv[1:4]
    settings = replace(from_environment(Path(data)), web_root=Path(web), sweep_seconds=0)
    Server(settings, "127.0.0.1", int(port), workers=1).run()
