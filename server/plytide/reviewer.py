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
            assessed = 0
            for clinic_id, _ in registry.clinic_files():
                db = open_clinic(settings.data_dir, registry, clinic_id)
                try:
                    assessed += rounds.go(db, settings.now())
                    notify.send(db, settings)
                    reminders.send(db, settings)
                finally:
                    db.close()
            return assessed
        finally:
            registry.close()


def start(settings: Settings) -> threading.Thread:
    """Sweep for as long as the process lives; straight on while there is work."""

    def loop() -> None:
        pause = threading.Event()
        while True:
            try:
                busy = sweep(settings)
            except (DatabaseError, OSError) as error:
                log.error("reviewer: %s: %s", type(error).__name__, error)
                busy = 0
            except Exception as error:  # a limb that breaks the engine must not end the rounds of all others
                log.error("reviewer: %s", type(error).__name__, exc_info=error)
                busy = 0
            if not busy:
                pause.wait(settings.sweep_seconds)

    thread = threading.Thread(target=loop, name="plytide-reviewer", daemon=True)
    thread.start()
    return thread
