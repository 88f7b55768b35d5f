"""A background thread that makes rounds: limbs with news, then limbs not yet brought to today.

Any number of workers may start one; a file lock lets a single one work at a time.
"""

from __future__ import annotations

import fcntl
import logging
import threading
from collections.abc import Callable

from sqlite_utils import Database

from plytide.settings import Settings
from plytide.storage.clinics import open_clinic
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import DatabaseError
from plytide.work import learning, mail, reassess, reminders

log = logging.getLogger("plytide")


def sweep(settings: Settings) -> int:
    """One round of every clinic; how many limbs were assessed. 0 when another worker is at it."""
    with (settings.data_dir / "background.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return 0
        registry = Registry(settings.data_dir)
        try:
            _links(settings, registry)  # first: somebody sits and waits for one
            files = registry.clinic_files()
            assessed = sum(_round(settings, registry, clinic_id) for clinic_id, _ in files)
            for clinic_id, _ in files:  # last: somebody else's push service may be slow to answer
                _turn(settings, registry, clinic_id, lambda db: reminders.send(db, settings))
            return assessed
        finally:
            registry.close()


def _links(settings: Settings, registry: Registry) -> None:
    """Links for new passwords. Whatever happens there, the clinics get their rounds."""
    try:
        mail.send_links(registry, settings)
    except Exception as error:
        log.error("background: links: %s", type(error).__name__, exc_info=error)


def _round(settings: Settings, registry: Registry, clinic_id: str) -> int:
    """One clinic's round; how many limbs were assessed. Whatever happens at one clinic, the others get theirs, and
    what fails in one queue keeps no other from its turn.
    """
    _turn(settings, registry, clinic_id, lambda db: learning.go(db, settings.now()))
    assessed = _turn(settings, registry, clinic_id, lambda db: reassess.go(db, settings.now()))
    _turn(settings, registry, clinic_id, lambda db: mail.send(db, settings))
    return assessed


def _turn(settings: Settings, registry: Registry, clinic_id: str, work: Callable[[Database], int]) -> int:
    """One queue of one clinic; how much `work` says was done."""
    try:
        db = open_clinic(settings.data_dir, registry, clinic_id)
        try:
            return work(db)
        finally:
            db.close()
    except (DatabaseError, OSError) as error:
        log.error("background: %s: %s", type(error).__name__, error)
    except Exception as error:
        log.error("background: %s", type(error).__name__, exc_info=error)
    return 0


class Reading:
    """Limbs somebody looks at are read at once, beside the rounds: by a thread of each worker that is told of them."""

    def __init__(self) -> None:
        self._bell = threading.Condition()
        self._wanted: set[str] = set()
        self._serves = False

    def ask(self, clinic_id: str) -> bool:
        """Whether the news of a clinic's limbs will be read; False where no background does."""
        with self._bell:
            if self._serves:
                self._wanted.add(clinic_id)
                self._bell.notify()
            return self._serves

    def start(self, settings: Settings, stop: threading.Event | None = None) -> threading.Thread:
        """Serve until `stop`, or for as long as the process lives."""

        def loop() -> None:
            while not (stop and stop.is_set()):
                with self._bell:
                    self._bell.wait_for(lambda: self._wanted, timeout=settings.sweep_seconds)
                    wanted, self._wanted = self._wanted, set()
                for clinic_id in wanted:
                    self._read(settings, clinic_id)

        self._serves = True
        thread = threading.Thread(target=loop, name="plytide-reading", daemon=True)
        thread.start()
        return thread

    def _read(self, settings: Settings, clinic_id: str) -> None:
        try:
            registry = Registry(settings.data_dir)
        except (DatabaseError, OSError) as error:
            log.error("reading: %s: %s", type(error).__name__, error)
            return
        try:
            now = settings.now()
            _turn(settings, registry, clinic_id, lambda db: reassess.go(db, now, days_too=False))
        finally:
            registry.close()


reading = Reading()


def start(settings: Settings, stop: threading.Event | None = None) -> threading.Thread:
    """Sweep until `stop`, or for as long as the process lives; straight on while there is work."""
    pause = stop or threading.Event()

    def loop() -> None:
        while not pause.is_set():
            try:
                busy = sweep(settings)
            except (DatabaseError, OSError) as error:  # not even the list of clinics can be read
                log.error("background: %s: %s", type(error).__name__, error)
                busy = 0
            if not busy:
                pause.wait(settings.sweep_seconds)

    thread = threading.Thread(target=loop, name="plytide-background", daemon=True)
    thread.start()
    return thread
