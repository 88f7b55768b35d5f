"""The real server with every log turned up: gunicorn's at debug, a line for each call, Python's loggers at DEBUG."""

from __future__ import annotations

import logging
import sys
from pathlib import Path

from plytide.http.server import Server
from plytide.settings import from_environment


class Heard(Server):
    def load_config(self) -> None:
        super().load_config()
        self.cfg.set("loglevel", "debug")
        self.cfg.set("accesslog", "-")


if __name__ == "__main__":
    data, port = sys.argv[1:3]
    logging.basicConfig(level=logging.DEBUG)
    Heard(from_environment(Path(data)), "127.0.0.1", int(port), workers=1).run()
