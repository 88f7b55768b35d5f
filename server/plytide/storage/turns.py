"""Whose turn it is to write to a file: one at a time, the next as soon as the last is done.

SQLite's own wait is a sleep of growing length between tries, so many writers leave the file idle while all of them
sleep, and the unlucky wait for seconds. Here the threads of a process queue at a lock, and the one whose turn it is
asks the other processes by a lock on a file beside the database. It orders writers and protects nothing: what protects
is SQLite's own lock, and who comes without a turn (a backup, another program) only waits as it always did.
"""

from __future__ import annotations

import fcntl
import os
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

SUFFIX = ".turn"
STEP_SECONDS = 0.0005  # between two looks at whether another process is done; one thread of each process looks

_queues: defaultdict[Path, threading.Lock] = defaultdict(threading.Lock)


@contextmanager
def turn(path: Path, seconds: float) -> Iterator[None]:
    """Wait for one's turn at a file, at most so long: after that SQLite's own wait decides."""
    until = time.monotonic() + seconds
    queue = _queues[path]
    first = queue.acquire(timeout=seconds)
    try:
        # Opened anew each time: a file kept open would outlive its folder, and be shared with what a process forks.
        try:
            fd = os.open(path.with_suffix(SUFFIX), os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        except OSError:  # a full disk, a folder that can't be written: SQLite will say what is the matter
            yield
            return
        try:
            while not _taken(fd) and time.monotonic() < until:
                time.sleep(STEP_SECONDS)
            yield
        finally:
            os.close(fd)
    finally:
        if first:
            queue.release()


def _taken(fd: int) -> bool:
    try:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True
