"""gunicorn around the app: several workers, one background thread each, files made ready before any starts.

Each worker also keeps a witness: each minute the registry notes where every clinic's audit chain stands.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from typing import Any

from flask import Flask
from gunicorn.app.base import BaseApplication
from prometheus_client import multiprocess

from plytide.http.app import create_app
from plytide.http.patient import PatientWorker
from plytide.settings import Settings
from plytide.storage.clinics import prepare_all
from plytide.storage.files import erasures, lock
from plytide.storage.registry import witness
from plytide.storage.sqlite import DatabaseError
from plytide.work import background

log = logging.getLogger("plytide")


def is_news(record: logging.LogRecord) -> bool:
    """Whether a line of gunicorn's log is worth keeping: a caller who fell silent is not."""
    return not (record.exc_info and isinstance(record.exc_info[1], BlockingIOError))


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

        def child_exit(_server: Any, worker: Any) -> None:
            if self.settings.metrics_dir:
                folder = str(self.settings.metrics_dir)
                multiprocess.mark_process_dead(worker.pid, folder)  # type: ignore[no-untyped-call]

        def post_worker_init(worker: Any) -> None:
            worker.log.error_log.addFilter(is_news)
            if self.settings.sweep_seconds:
                background.start(self.settings)
                background.reading.start(self.settings)
                keep_witness(self.settings)

        for name, value in {
            "bind": self.bind,
            "workers": self.workers,
            "worker_class": PatientWorker,
            "threads": 12,
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
            "child_exit": child_exit,
            "forwarded_allow_ips": "127.0.0.1",
            "proc_name": "plytide",
            # The shared-memory heartbeat file: a full data disk must not stall workers.
            "worker_tmp_dir": "/dev/shm",
        }.items():
            self.cfg.set(name, value)

    def load(self) -> Flask:
        return create_app(self.settings)


WITNESS_SECONDS = 60.0


def keep_witness(settings: Settings, every: float = WITNESS_SECONDS) -> threading.Thread:
    """A background thread, in each worker, that lets the registry see each audit chain's end.

    Noting it twice is once.
    """

    def loop() -> None:
        pause = threading.Event()
        while not pause.wait(every):
            try:
                witness.look_at_all(settings.data_dir, settings.now())
            except (DatabaseError, OSError) as error:
                log.error("witness: %s", type(error).__name__)

    thread = threading.Thread(target=loop, name="plytide-witness", daemon=True)
    thread.start()
    return thread


def serve(settings: Settings, host: str, port: int, workers: int, ready: Callable[[str], None] | None = None) -> None:
    """Serve until told to stop (SIGTERM lets requests under way finish). Raises InUse while files are replaced."""
    with lock.serving(settings.data_dir):
        prepare_all(settings.data_dir)
        erasures.go_through(settings.data_dir, settings.now())
        Server(settings, host, port, workers, ready).run()
