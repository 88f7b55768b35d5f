"""gunicorn's threads, given a request only when it is there whole: a caller who trickles costs no thread.

The worker's one loop, which waits for all connections at once, gathers what each sends; head and body are handed to
a thread when they are complete. It also sends on what a caller does not read yet, and waits for those who do not
close. Who takes too long is let go.
"""

from __future__ import annotations

import re
import selectors
import socket
import struct
import time
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from gunicorn.workers.gthread import ThreadWorker

from plytide.http.outlet import Outlet

# Judgement: a phone gives a call 20 seconds and a photo 60.
SILENT_SECONDS = 5  # of a thread's own wait for more: only where a body is not gathered whole
BEGIN_SECONDS = 15.0  # until a caller says anything
HEAD_SECONDS = 20.0  # from the first byte to the end of the head
WHOLE_SECONDS = 90.0  # from the first byte to the end of the body
TAKE_SECONDS = 30.0  # to read an answer that was not taken at once, and
TAKE_A_SECOND = 10_000  # bytes of it a second: a slow phone's
CLOSE_SECONDS = 2.0  # for the other side to close
MOST_AFTER = 65_536  # bytes that are read past the last answer
MOST_HEAD = 70_000  # more than gunicorn takes: it says so
MOST_GATHERED = 100_000_000  # bytes of all callers together; then the largest is let go
PIECE = 1 << 16
LENGTH = re.compile(rb"\r\ncontent-length:[ \t]*(\d+)[ \t]*\r\n", re.IGNORECASE)
CHUNKED = re.compile(rb"\r\ntransfer-encoding:[^\r]*chunked", re.IGNORECASE)
EXPECTS = re.compile(rb"\r\nexpect:[ \t]*100-continue", re.IGNORECASE)


@dataclass(slots=True)
class Incoming:
    """A request as far as it came."""

    data: bytearray = field(default_factory=bytearray)
    since: float = field(default_factory=time.monotonic)
    head: int = -1  # where its head ends; -1: not yet
    whole: int = -1  # how long head and body are; -1: the body has no length, and says itself where it ends
    told_to_go_on: bool = False

    def begun(self) -> bool:
        return bool(self.data)

    def complete(self, most: int) -> bool:
        """Whether it can be handed on: whole, or too large to be taken at all."""
        if self.head < 0:
            end = self.data.find(b"\r\n\r\n")
            if end < 0:
                return len(self.data) > MOST_HEAD
            self.head = end + 4
            said = bytes(self.data[: self.head])
            length = LENGTH.search(said)
            self.whole = (
                -1 if CHUNKED.search(said) else self.head + int((length[1].lstrip(b"0") if length else b"")[:12] or 0)
            )
        if len(self.data) > self.head + most:
            return True
        return self.data.endswith(b"\r\n0\r\n\r\n") if self.whole < 0 else len(self.data) >= self.whole

    def waits_for_a_word(self) -> bool:
        """Whether the caller sends no body before it is told to."""
        return self.head > 0 and not self.told_to_go_on and bool(EXPECTS.search(bytes(self.data[: self.head])))

    def late(self, now: float) -> bool:
        most = BEGIN_SECONDS if not self.data else HEAD_SECONDS if self.head < 0 else WHOLE_SECONDS
        return now - self.since > most


class PatientWorker(ThreadWorker):  # type: ignore[misc]
    """`gathering` holds the connections whose request is not there whole yet; `leaving`, with the instant at which each
    is let go, those that have an answer to take or are to close.
    """

    most_body = 2_000_000

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.gathering: dict[Any, Incoming] = {}
        self.leaving: dict[Any, float] = {}

    def enqueue_req(self, conn: Any) -> None:
        """A connection that is new, or may have its next request: gathered before any thread has it."""
        if not isinstance(conn.sock, Outlet):
            conn.sock = Outlet(conn.sock)
        conn.sock.waited = 0.0
        early = conn.parser.unreader.take_buffered() if conn.parser else b""
        if conn not in self.gathering:
            conn.sock.setblocking(False)
            self._gather(conn, Incoming(bytearray(early)), conn.sock)

    def _gather(self, conn: Any, request: Incoming, _sock: Any) -> None:
        ended = False
        try:
            while not request.complete(self.most_body):
                if request.waits_for_a_word():
                    request.told_to_go_on = True
                    conn.sock.send(b"HTTP/1.1 100 Continue\r\n\r\n")
                begun = request.begun()
                piece = conn.sock.recv(PIECE)
                if not begun:
                    request.since = time.monotonic()
                request.data += piece
                if not piece:
                    ended = True
                    break
        except BlockingIOError:
            if conn not in self.gathering:
                self.gathering[conn] = request
                self.poller.register(conn.sock, selectors.EVENT_READ, partial(self._gather, conn, request))
            return
        except OSError:
            return self._let_go(conn)
        if ended and not request.begun():
            return self._let_go(conn)
        self._forget(conn)
        conn.sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVTIMEO, struct.pack("ll", SILENT_SECONDS, 0))
        conn.data_ready = True
        conn.init()
        conn.parser.unreader.unread(bytes(request.data))
        super().enqueue_req(conn)

    def finish_request(self, conn: Any, fs: Any) -> None:
        """An answer is made: what of it was not taken is sent on from the loop, then the connection goes on or ends.

        gunicorn's own way to end waits, in this one loop, up to two seconds for a caller who does not close.
        """
        try:
            goes_on = bool(fs.result()) and not fs.cancelled()
            conn.sock.setblocking(False)
            if conn.sock.left:
                most = TAKE_SECONDS + len(conn.sock.left) / TAKE_A_SECOND
                self._leave(conn, selectors.EVENT_WRITE, most, partial(self._send_on, conn, fs))
                return
            if goes_on:
                super().finish_request(conn, fs)
                return
            conn.sock.shutdown(socket.SHUT_WR)
            after = Incoming()
            self._leave(conn, selectors.EVENT_READ, CLOSE_SECONDS, partial(self._until_closed, conn, after))
        except Exception:
            self._let_go(conn)

    def _leave(self, conn: Any, event: int, seconds: float, callback: Any) -> None:
        self.leaving[conn] = time.monotonic() + seconds
        self.poller.register(conn.sock, event, callback)

    def _send_on(self, conn: Any, fs: Any, _sock: Any) -> None:
        try:
            done = conn.sock.send_on()
        except OSError:
            return self._let_go(conn)
        if done:
            self._forget(conn)
            self.finish_request(conn, fs)

    def _until_closed(self, conn: Any, after: Incoming, _sock: Any) -> None:
        try:
            piece = conn.sock.recv(PIECE)
        except BlockingIOError:
            return
        except OSError:
            piece = b""
        after.data += piece
        if not piece or len(after.data) > MOST_AFTER:
            self._let_go(conn)

    def _forget(self, conn: Any) -> None:
        known = [self.gathering.pop(conn, None), self.leaving.pop(conn, None)]
        if any(one is not None for one in known):
            with suppress(OSError, KeyError, ValueError):
                self.poller.unregister(conn.sock)

    def _let_go(self, conn: Any) -> None:
        self._forget(conn)
        self.nr_conns -= 1
        conn.sock.forget()
        conn.close()

    def murder_pending(self) -> None:
        """Called about once a second: who is late is let go, and while the worker stops who has not begun."""
        super().murder_pending()
        now = time.monotonic()
        for conn, request in list(self.gathering.items()):
            if request.late(now) or not (self.alive or request.begun()):
                self._let_go(conn)
        for conn, until in list(self.leaving.items()):
            if now > until:
                self._let_go(conn)
        while self.gathering and sum(len(one.data) for one in self.gathering.values()) > MOST_GATHERED:
            self._let_go(max(self.gathering, key=lambda conn: len(self.gathering[conn].data)))
