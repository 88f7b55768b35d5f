"""Who is at work on a data folder: servers share it, what replaces files has it alone. And how one is replaced.

The lock is the kernel's (flock): it ends with the last process that holds it, however that ends.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

LOCK = "serving.lock"


class InUse(Exception):
    """store: a data folder that somebody is at work on; the message says who and what to do."""


@contextmanager
def _held(data_dir: Path, how: int, else_words: str) -> Iterator[None]:
    with (data_dir / LOCK).open("a") as lock:
        try:
            fcntl.flock(lock, how | fcntl.LOCK_NB)
        except BlockingIOError:
            raise InUse(else_words) from None
        yield


def serving(data_dir: Path) -> AbstractContextManager[None]:
    """Held by a server and, through its fork, by its workers. Raises InUse while files are being replaced."""
    return _held(data_dir, fcntl.LOCK_SH, f"The files in {data_dir} are being replaced. Wait until that has ended.")


def alone(data_dir: Path) -> AbstractContextManager[None]:
    """Held while files are replaced. Raises InUse while a server runs on them."""
    return _held(data_dir, fcntl.LOCK_EX, f"A server is running on {data_dir}. Stop it first.")


def on_disk(path: Path) -> None:
    """A file or folder, on the disk when it returns. Never for a database that is open in this process."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def put_in_place(fresh: Path, path: Path) -> None:
    """A finished file in the place of another: after a power cut there is the one or the other, whole."""
    on_disk(fresh)
    fresh.replace(path)
    on_disk(path.parent)
