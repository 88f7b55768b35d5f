"""Callers who trickle keep nobody out, without any proxy: the real server, one worker, more of them than threads."""

from __future__ import annotations

import socket
import threading
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager

import pytest

from plytide.http.patient import HEAD_SECONDS, Incoming
from tests.actors import Server

MANY = 40  # a worker has 12 threads

BEGUN = {
    "nothing": b"",
    "a head": b"GET /healthz HTTP/1.1\r\nHost: x\r\nX-Slow: ",
    "a body": b"POST /api/enrol HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 900\r\n\r\n{",
    "a body in chunks": b"POST /api/enrol HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n5\r\n{",
    "a body it is to be asked for": (
        b"POST /api/enrol HTTP/1.1\r\nHost: x\r\nExpect: 100-continue\r\nContent-Length: 900\r\n\r\n"
    ),
    "a length with zeros": b"POST /api/enrol HTTP/1.1\r\nHost: x\r\nContent-Length: 0000000000000900\r\n\r\n{",
    "a second call": b"GET /healthz HTTP/1.1\r\nHost: x\r\n\r\nGET /heal",
}


@contextmanager
def trickling(port: int, begun: bytes) -> Iterator[None]:
    """So many callers that said `begun`, and go on with a byte at a time."""
    streams = [socket.create_connection(("127.0.0.1", port), timeout=120) for _ in range(MANY)]
    stop = threading.Event()

    def drip() -> None:
        while not stop.wait(0.5):
            for stream in streams:
                try:
                    stream.send(b"x" if begun else b"")
                except OSError:
                    pass

    thread = threading.Thread(target=drip)
    try:
        for stream in streams:
            stream.sendall(begun)
        thread.start()
        yield
    finally:
        stop.set()
        thread.join()
        for stream in streams:
            stream.close()


@pytest.fixture
def port(serve: Callable[..., Server]) -> int:
    return int(serve("--workers", "1").url.rsplit(":", 1)[1])


def test_many_who_trickle_keep_nobody_out(port: int) -> None:
    with ExitStack() as all_of_them:
        for begun in BEGUN.values():
            all_of_them.enter_context(trickling(port, begun))
            for _ in range(5):
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=300) as answer:
                    assert answer.status == 200


def test_many_who_do_not_read_keep_nobody_out(port: int) -> None:
    """Each asks again and again for the largest file there is, and reads nothing."""
    ask = b"GET /vendor/chart.umd.js HTTP/1.1\r\nHost: x\r\n\r\n"
    with ExitStack() as all_of_them:
        for _ in range(MANY):
            stream = all_of_them.enter_context(socket.socket())
            stream.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
            stream.settimeout(20)
            stream.connect(("127.0.0.1", port))
            stream.sendall(ask * 40)
        for _ in range(5):
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=60) as answer:
                assert answer.status == 200


def test_many_who_do_not_close_keep_nobody_out(port: int) -> None:
    ask = b"GET /healthz HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
    with ExitStack() as all_of_them:
        for _ in range(2 * MANY):
            stream = all_of_them.enter_context(socket.create_connection(("127.0.0.1", port), timeout=20))
            stream.sendall(ask)
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=60) as answer:
            assert answer.status == 200


def test_who_reads_slowly_gets_all_of_it(port: int) -> None:
    ask = b"GET /vendor/chart.umd.js HTTP/1.1\r\nHost: x\r\n\r\n"
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/vendor/chart.umd.js", timeout=60) as answer:
        whole = answer.read()
    with socket.socket() as stream:
        stream.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        stream.settimeout(60)
        stream.connect(("127.0.0.1", port))
        stream.sendall(ask * 2 + ask.replace(b"Host", b"Connection: close\r\nHost"))
        heard = bytearray()
        while more := stream.recv(1 << 14):
            heard += more
    assert heard.count(whole) == 3 and heard.endswith(whole)


def answered(port: int, *parts: bytes) -> bytes:
    """What is said to a call that comes in these parts, until the server closes."""
    with socket.create_connection(("127.0.0.1", port), timeout=300) as stream:
        heard = b""
        for part in parts:
            stream.sendall(part)
            threading.Event().wait(0.05)
        while more := stream.recv(1 << 16):
            heard += more
    return heard


def test_a_call_in_pieces_is_put_together_and_what_is_too_large_is_said(port: int) -> None:
    body = b'{"code": "NO"}'
    head = b"POST /api/enrol HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 14\r\n"
    assert (
        answered(port, head[:30], head[30:] + b"Connection: close\r\n\r\n", body[:4], body[4:]).count(b"code-unknown")
        == 1
    )
    both = head + b"\r\n" + body + b"GET /healthz HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
    heard = answered(port, both[:100], both[100:])
    assert heard.count(b"HTTP/1.1 ") == 2 and heard.count(b'{"alive"') == 1
    told = answered(port, head + b"Expect: 100-continue\r\nConnection: close\r\n\r\n", body)
    assert told.startswith(b"HTTP/1.1 100 Continue") and b"code-unknown" in told
    chunks = head.replace(b"Content-Length: 14", b"Transfer-Encoding: chunked") + b"Connection: close\r\n\r\n"
    assert b"code-unknown" in answered(port, chunks, b"e\r\n" + body, b"\r\n0\r\n\r\n")
    # What is too large is said, and not waited for.
    head = b"POST /api/enrol HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nConnection: close\r\n"
    assert b"413" in answered(port, head + b"Content-Length: 2100000\r\n\r\n" + b" " * 2_100_000)[:20]
    assert answered(port, b"GET /" + b"x" * 80_000).startswith(b"HTTP/1.1 4")


def test_who_takes_too_long_is_late() -> None:
    """By the clock that is handed in."""
    request = Incoming(bytearray(b"GET / HT"), since=100.0)
    assert not request.complete(10) and not request.late(100.0 + HEAD_SECONDS - 1)
    assert request.late(100.0 + HEAD_SECONDS + 1)


@pytest.mark.parametrize(
    ("said", "whole"),
    [
        (b"content-length:3", False),
        (b"Content-Length: 0002", True),
        (b"Content-Length: " + b"9" * 5000, False),
        (b"Transfer-Encoding: chunked", False),
        (b"X: y", True),
    ],
)
def test_a_request_is_whole_when_its_head_says_so(said: bytes, whole: bool) -> None:
    head = b"POST / HTTP/1.1\r\n" + said + b"\r\n"
    assert not Incoming(bytearray(head)).complete(10)
    assert Incoming(bytearray(head + b"\r\nab")).complete(10) is whole
    assert Incoming(bytearray(head + b"\r\n" + b"ab" * 10)).complete(10)
