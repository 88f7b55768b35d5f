"""gunicorn around the app: several workers, one reviewer thread each, files made ready before any starts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import Flask
from gunicorn.app.base import BaseApplication

from plytide import reviewer
from plytide.app import create_app
from plytide.settings import Settings
from plytide.store.clinics import prepare_all


class Server(BaseApplication):  # type: ignore[misc]
    """The real server. `ready` is called once it listens, with its address."""

    def __init__(
        self,
        settings: Settings,
        host: str,
        port: int,
        workers: int,
        ready: Callable[[str], None] | None = None,
    ) -> None:
        self.settings, self.bind, self.workers, self.ready = settings, f"{host}:{port}", workers, ready
        super().__init__()

    def load_config(self) -> None:
        def when_ready(server: Any) -> None:
            if self.ready:
                host, port = server.LISTENERS[0].sock.getsockname()[:2]
                self.ready(f"http://{host}:{port}")

        def post_worker_init(_worker: Any) -> None:
            if self.settings.sweep_seconds:
                reviewer.start(self.settings)

        for name, value in {
            "bind": self.bind,
            "workers": self.workers,
            "worker_class": "gthread",
            "threads": 4,
            "timeout": 60,
            "graceful_timeout": 20,
            "keepalive": 15,
            "limit_request_line": 4094,
            "limit_request_fields": 60,
            "errorlog": "-",
            "accesslog": None,
            "loglevel": "warning",
            "when_ready": when_ready,
            "post_worker_init": post_worker_init,
            "forwarded_allow_ips": "127.0.0.1",
            "proc_name": "plytide",
            # The shared-memory heartbeat file: a full data disk must not stall workers.
            "worker_tmp_dir": "/dev/shm",
        }.items():
            self.cfg.set(name, value)

    def load(self) -> Flask:
        return create_app(self.settings)


def serve(
    settings: Settings, host: str, port: int, workers: int, ready: Callable[[str], None] | None = None
) -> None:
    """Serve until told to stop (SIGTERM lets requests under way finish)."""
    prepare_all(settings.data_dir)
    Server(settings, host, port, workers, ready).run()
