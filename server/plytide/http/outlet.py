"""A caller's connection that never makes a thread wait for them to read: what they do not take yet is kept, and the
worker's loop sends it on.
"""

from __future__ import annotations

import select
import socket
import threading
import time
from typing import Any

MOST_LEFT = 8_000_000  # bytes of one answer that are kept; above it the thread waits
MOST_LEFT_OF_ALL = 100_000_000  # of all callers of a worker together
THREAD_SECONDS = 20.0  # that a thread waits at most in one answer
PIECE = 1 << 16


class _Held:
    """How much is kept for all callers of this process."""

    def __init__(self) -> None:
        self.bytes = 0
        self._lock = threading.Lock()

    def add(self, count: int) -> None:
        with self._lock:
            self.bytes += count


held = _Held()


class Outlet(socket.socket):
    """`left`: what was answered and not taken yet."""

    def __init__(self, plain: socket.socket) -> None:
        super().__init__(fileno=plain.detach())
        self.left = bytearray()
        self.waited = 0.0

    def sendall(self, data: Any, flags: int = 0) -> None:
        view = memoryview(data).cast("B")
        if not self.left:
            view = view[self._taken(view) :]
        self.left += view
        held.add(len(view))
        while self.left and (len(self.left) > MOST_LEFT or held.bytes > MOST_LEFT_OF_ALL):
            self._wait()

    def sendfile(self, file: Any, offset: int = 0, count: int | None = None) -> int:
        file.seek(offset)
        sent = 0
        while piece := file.read(PIECE if count is None else min(PIECE, count - sent)):
            self.sendall(piece)
            sent += len(piece)
        return sent

    def send_on(self) -> bool:
        """Send of what is left as much as is taken now; whether nothing is left. Raises OSError for one who is gone."""
        taken = self._taken(memoryview(bytes(self.left[: PIECE * 16])))
        del self.left[:taken]
        held.add(-taken)
        return not self.left

    def forget(self) -> None:
        held.add(-len(self.left))
        self.left.clear()

    def _taken(self, view: memoryview) -> int:
        sent = 0
        while sent < len(view):
            try:
                sent += self.send(view[sent : sent + PIECE * 4], socket.MSG_DONTWAIT)
            except BlockingIOError:
                break
        return sent

    def _wait(self) -> None:
        """In a thread, until some of it is taken; who takes too long is given up."""
        start = time.monotonic()
        ready = select.select([], [self], [], max(0.0, THREAD_SECONDS - self.waited))[1]
        self.waited += time.monotonic() - start
        if not ready or self.waited >= THREAD_SECONDS:
            raise ConnectionResetError("the caller does not read")
        self.send_on()
