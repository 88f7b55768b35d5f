"""A background thread that makes rounds: limbs with news, then limbs not yet brought to today.

Any number of workers may start one; a file lock lets a single one work at a time.
"""

from __future__ import annotations

import fcntl
import logging
import threading

from plytide import notify, reminders, rounds
from plytide.settings import Settings
from plytide.store.clinics import open_clinic
from plytide.store.registry import Registry
from plytide.store.sqlite import DatabaseError

log = logging.getLogger("plytide")


def sweep(settings: Settings) -> int:
    """One round of every clinic; how many limbs were assessed. 0 when another worker is at it."""
    with (settings.data_dir / "reviewer.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return 0
        registry = Registry(settings.data_dir)
        try:
            _links(settings, registry)  # first: somebody sits and waits for one
            files = registry.clinic_files()
            return sum(_round(settings, registry, clinic_id) for clinic_id, _ in files)
        finally:
            registry.close()


def _links(settings: Settings, registry: Registry) -> None:
    """Links for new passwords. Whatever happens there, the clinics get their rounds."""
    try:
        notify.send_links(registry, settings)
    except Exception as error:
        log.error("reviewer: links: %s", type(error).__name__, exc_info=error)


def _round(settings: Settings, registry: Registry, clinic_id: str) -> int:
    """One clinic's round; how many limbs were assessed. Whatever happens at one clinic, the others get theirs."""
    try:
        db = open_clinic(settings.data_dir, registry, clinic_id)
        try:
            assessed = rounds.go(db, settings.now())
            notify.send(db, settings)
            reminders.send(db, settings)
            return assessed
        finally:
            db.close()
    except (DatabaseError, OSError) as error:
        log.error("reviewer: %s: %s", type(error).__name__, error)
    except Exception as error:
        log.error("reviewer: %s", type(error).__name__, exc_info=error)
    return 0


def start(settings: Settings, stop: threading.Event | None = None) -> threading.Thread:
    """Sweep until `stop`, or for as long as the process lives; straight on while there is work."""
    pause = stop or threading.Event()

    def loop() -> None:
        while not pause.is_set():
            try:
                busy = sweep(settings)
            except (DatabaseError, OSError) as error:  # not even the list of clinics can be read
                log.error("reviewer: %s: %s", type(error).__name__, error)
                busy = 0
            if not busy:
                pause.wait(settings.sweep_seconds)

    thread = threading.Thread(target=loop, name="plytide-reviewer", daemon=True)
    thread.start()
    return thread
