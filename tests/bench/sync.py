"""`python -m tests.bench sync [--quick] [--seconds S] [--no-peer]`: check-ins a second, against raw SQLite and a
document store.

One run, one machine, the same check-ins in batches of 50, the same driver beside each server. Ours goes through
real HTTP with every check-in validated, once kept, and given back with its sequence number. "Raw" is SQLite alone
in one process, with the same table and index, synchronous=FULL. The peer is the npm package pouchdb-server, which
validates nothing, by its _bulk_docs.
"""

from __future__ import annotations

import argparse
import cProfile
import json
import os
import pstats
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from random import Random

import orjson

from plytide.http.app import create_app
from plytide.settings import Settings
from plytide.storage.sqlite import sqlite3
from plytide.wire import checkin as wire
from tests.actors import free_port
from tests.bench import step
from tests.chaos.run import Phone, Served, found

BATCH = 50
AT_ONCE = 8

#: The next call, and what counts the documents its answer says are kept. StopIteration when nothing is left.
Caller = Callable[[], tuple[bytes, Callable[[bytes], int]]]


def raw(folder: Path, seconds: float) -> float:
    """Rows a second of SQLite alone: one connection, one transaction for 50 rows, on the disk after each."""
    db = sqlite3.connect(str(folder / "raw.db"), isolation_level=None)
    db.execute("PRAGMA journal_mode=WAL")
    db.execute("PRAGMA synchronous=FULL")
    db.execute(
        "CREATE TABLE checkin (seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, limb_id TEXT NOT NULL,"
        " body TEXT NOT NULL, written_by TEXT, received_from TEXT NOT NULL, received_at TEXT NOT NULL,"
        " doubt TEXT) STRICT"
    )
    db.execute("CREATE INDEX checkin_limb ON checkin (limb_id, seq)")
    phones = [Phone("", f"limb-{n // 2:031}", n) for n in range(AT_ONCE * 2)]
    random, seq, spent = Random(1), 0, 0.0
    while spent < seconds:
        phone = phones[seq // BATCH % len(phones)]
        phone.outbox.clear()
        phone.write(BATCH, random)
        offers = [wire.read(orjson.loads(text)) for text in phone.outbox.values()]
        rows = [
            (seq + i, one.id, one.limb_id, one.body, "d" * 36, "d" * 36, "2025-09-15T12:00:00.000000+00:00", None)
            for i, one in enumerate(offers, 1)
        ]
        start = time.perf_counter()
        db.execute("BEGIN IMMEDIATE")
        db.executemany("INSERT INTO checkin VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
        db.execute("COMMIT")
        spent += time.perf_counter() - start
        seq += BATCH
    db.close()
    return seq / spent


def heard(stream: socket.socket, call: bytes) -> bytes:
    """The body of the answer to one call over an open connection."""
    stream.sendall(call)
    data = b""
    while b"\r\n\r\n" not in data:
        more = stream.recv(1 << 20)
        if not more:
            raise ConnectionError("closed")
        data += more
    head, _, body = data.partition(b"\r\n\r\n")
    lower = head.lower()
    assert head.startswith(b"HTTP/1.1 2"), head[:200]
    length = int(lower.split(b"content-length:")[1].split(b"\r\n")[0])
    parts, size = [body], len(body)
    while size < length:
        parts.append(stream.recv(1 << 20))
        size += len(parts[-1])
    return b"".join(parts)


def driven(port: int, calls: list[Caller], seconds: float) -> float:
    """Documents a second, from as many callers at a time as there are `calls`; each counts its answer."""
    counts, until = [0] * len(calls), time.perf_counter() + seconds

    def drive(n: int) -> None:
        with socket.create_connection(("127.0.0.1", port)) as stream:
            stream.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            while time.perf_counter() < until:
                try:
                    call, count = calls[n]()
                except StopIteration:
                    return
                counts[n] += count(heard(stream, call))

    start = time.perf_counter()
    threads = [threading.Thread(target=drive, args=(n,)) for n in range(len(calls))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sum(counts) / (time.perf_counter() - start)


def post(path: str, token: str, body: bytes) -> bytes:
    return (
        f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nAuthorization: Bearer {token}\r\nAccept: application/json\r\n"
        f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
    ).encode() + body


def batches(phone: Phone, random: Random, times: int, *, named: bytes = b'{"id":') -> Iterator[bytes]:
    """So many batches of 50, as texts: made beforehand, so that making them is not measured."""
    made = []
    for _ in range(times):
        phone.outbox.clear()
        phone.write(BATCH, random)
        made.append(b",".join(text.replace(b'{"id":', named, 1) for text in phone.outbox.values()))
    return iter(made)


def caller(phone: Phone, random: Random, times: int = 400) -> Caller:
    """A phone that sends 50 at a time, again and again."""
    ready = batches(phone, random, times)

    def call() -> tuple[bytes, Callable[[bytes], int]]:
        body = b'{"schema":1,"cursor":%s,"checkins":[%s]}' % (orjson.dumps(phone.cursor), next(ready))
        return post("/api/sync", phone.token, body), count

    def count(answer: bytes) -> int:
        said = orjson.loads(answer)
        phone.cursor = said["cursor"]
        kept = sum(receipt["status"] == "kept" for receipt in said["receipts"])
        assert kept == BATCH, said["receipts"][:1]
        return kept

    return call


@contextmanager
def serving(folder: Path, workers: int) -> Iterator[Served]:
    served = Served(folder, workers)
    served.start()
    try:
        until = time.monotonic() + 30
        while not served.answers():
            assert time.monotonic() < until, "the server does not start"
            time.sleep(0.05)
        yield served
    finally:
        served.kill()


def ours(folder: Path, seconds: float, workers: int) -> float:
    phones = [phone for n, phone in enumerate(found(folder / "ours", AT_ONCE * 2)) if n % 2 == 0]
    random = Random(1)
    with serving(folder / "ours", workers) as served:
        calls = [caller(phone, random) for phone in phones]
        driven(served.port, calls, 1.0)  # until every worker and connection is warm
        return driven(served.port, calls, seconds)


def install(folder: Path) -> bool:
    """Fetch the document store into a folder; whether it is there, with a word why not."""
    npm = shutil.which("npm")
    if npm is None:
        print("peer: skipped, there is no npm here")
        return False
    command = [npm, "install", "--no-audit", "--no-fund", "--prefer-offline", "--loglevel=error", "pouchdb-server@4"]
    try:
        got = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=600)
    except subprocess.TimeoutExpired:
        print("peer: skipped, npm did not finish in 600 s")
        return False
    if got.returncode:
        print(f"peer: skipped, npm says {got.stderr.strip()[-300:]}")
    return got.returncode == 0


def peer(folder: Path, seconds: float, installed: Path | None) -> float | None:
    """Documents a second of the document store; None, with a word why, when it can't be had."""
    program = (installed or folder) / "node_modules" / ".bin" / "pouchdb-server"
    if not program.exists() and not install(folder):
        return None
    port = free_port()
    command = [str(program), "--port", str(port), "--host", "127.0.0.1"]
    server = subprocess.Popen(
        [*command, "--dir", str(folder), "--no-stdout-logs"],
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        until = time.monotonic() + 30
        while True:
            try:
                with socket.create_connection(("127.0.0.1", port), timeout=1):
                    break
            except OSError:
                if time.monotonic() > until or server.poll() is not None:
                    print("peer: skipped, it does not start")
                    return None
                time.sleep(0.1)
        time.sleep(1)
        with socket.create_connection(("127.0.0.1", port)) as stream:
            heard(stream, b"PUT /checkins HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 0\r\n\r\n")
        random = Random(1)

        def bulk(phone: Phone) -> Caller:
            ready = batches(phone, random, 400, named=b'{"_id":')

            def call() -> tuple[bytes, Callable[[bytes], int]]:
                return post("/checkins/_bulk_docs", "", b'{"docs":[%s]}' % next(ready)), count

            def count(answer: bytes) -> int:
                done = sum(bool(one.get("ok")) for one in orjson.loads(answer))
                assert done == BATCH
                return done

            return call

        calls = [bulk(Phone("", f"limb-{n}", n)) for n in range(AT_ONCE)]
        driven(port, calls, 1.0)
        return driven(port, calls, seconds)
    finally:
        os.killpg(server.pid, signal.SIGKILL)
        server.wait()


def layers(folder: Path, calls: int) -> dict[str, float]:
    """Milliseconds of one call of 50 in this process, by layer, without sockets: the app is called as gunicorn calls
    it.
    """
    (phone, *_) = found(folder / "layers", 2)
    app = create_app(Settings(data_dir=folder / "layers", sweep_seconds=0))
    client = app.test_client(use_cookies=False)
    make = caller(phone, Random(1))
    bodies = []
    headers = {"Authorization": f"Bearer {phone.token}", "Content-Type": "application/json"}

    def one() -> float:
        call, count = make()
        body = call.partition(b"\r\n\r\n")[2]
        bodies.append(body)
        start = time.process_time()
        said = client.post("/api/sync", data=body, headers=headers).data
        took = time.process_time() - start
        count(said)
        return took

    def each(work: Callable[[bytes], object]) -> float:
        start = time.process_time()
        for body in bodies[-calls:]:
            work(body)
        return (time.process_time() - start) / calls * 1000

    for _ in range(calls // 10):
        one()
    whole = sum(one() for _ in range(calls)) / calls * 1000
    empty = b'{"schema":1,"cursor":%s,"checkins":[]}' % orjson.dumps(phone.cursor)
    nothing = each(lambda _: client.post("/api/sync", data=empty, headers=headers))
    items = {body: orjson.loads(body)["checkins"] for body in bodies[-calls:]}
    texts = {body: [wire.read(raw) for raw in items[body]] for body in items}
    read = each(orjson.loads)
    checked = each(lambda body: [wire.quick(raw) for raw in items[body]])
    back = each(lambda body: orjson.dumps([wire.out(one.id, one.limb_id, one.body) for one in texts[body]]))
    return {
        "whole call": whole,
        "HTTP layer, token, clinic, cursor: a call that brings nothing": nothing,
        "reading the JSON": read,
        "checking and canonical text, one pass": checked,
        "50 changes back as JSON": back,
        "the rest: SQLite, the audit line, receipts": whole - nothing - read - checked - back,
        "(for comparison: checking by marshmallow alone)": each(lambda body: [wire.slow(raw) for raw in items[body]]),
    }


def idle(folder: Path, sizes: list[int], calls: int) -> dict[int, float]:
    """Median milliseconds of a sync that brings nothing new, by how many phones are enrolled."""
    took = {}
    for size in sizes:
        step(f"a clinic with {size:,} phones, for the call that brings nothing")
        phones = found(folder / f"idle-{size}", size)
        with serving(folder / f"idle-{size}", 1) as served:
            some = [phones[i * len(phones) // min(50, len(phones))] for i in range(min(50, len(phones)))]
            with socket.create_connection(("127.0.0.1", served.port)) as stream:
                stream.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

                def ask(phone: Phone, stream: socket.socket = stream) -> None:
                    body = b'{"schema":1,"cursor":%s,"checkins":[]}' % orjson.dumps(phone.cursor)
                    phone.cursor = orjson.loads(heard(stream, post("/api/sync", phone.token, body)))["cursor"]

                for phone in some:
                    ask(phone)
                times = []
                for n in range(calls):
                    start = time.perf_counter()
                    ask(some[n % len(some)])
                    times.append(time.perf_counter() - start)
        took[size] = statistics.median(times) * 1000
        shutil.rmtree(folder / f"idle-{size}")
    return took


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench sync")
    parser.add_argument("--seconds", type=float, default=8)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--sizes", default="1,1000,100000", help="enrolled phones for the call that brings nothing")
    parser.add_argument("--folder", type=Path, help="where the files lie (default: the system's temporary folder)")
    parser.add_argument("--no-peer", action="store_true")
    parser.add_argument("--peer", type=Path, help="a folder in which npm has installed pouchdb-server already")
    parser.add_argument("--quick", action="store_true", help="short, without the peer and the large clinic")
    parser.add_argument("--profile", action="store_true", help="and the functions that take most of a call")
    given = parser.parse_args(argv)
    if given.quick:
        given.seconds, given.no_peer, given.sizes = 2.0, True, "1,1000"
    calls = 40 if given.quick else 200
    with tempfile.TemporaryDirectory(prefix="plytide-bench-", dir=given.folder) as inside:
        folder = Path(inside)
        said: dict[str, object] = {"at": datetime.now(UTC).isoformat(timespec="seconds"), "load": os.getloadavg()[0]}
        step("SQLite alone")
        before = raw(folder, given.seconds / 2)
        step("our server")
        mine = ours(folder, given.seconds, given.workers)
        step("SQLite alone once more")
        after = raw_again(folder, given.seconds / 2)
        alone = (before + after) / 2
        if not given.no_peer:
            step("the peer; it is fetched from npm first, which can take minutes (--no-peer leaves it out)")
        other = None if given.no_peer else peer(folder, given.seconds, given.peer)
        said |= {"raw rows/s": round(alone), "ours check-ins/s": round(mine), "ours / raw": round(mine / alone, 2)}
        if other:
            said |= {"peer documents/s": round(other), "ours / peer": round(mine / other, 1)}
        print(json.dumps(said), flush=True)
        print(
            f"\nraw SQLite, batches of {BATCH}, FULL   {before:>9,.0f} and {after:,.0f} rows/s (before and after ours)"
        )
        print(f"ours, real HTTP, validated        {mine:>9,.0f} check-ins/s   {mine / alone:.2f} of raw (goal 0.5)")
        if other:
            print(
                f"pouchdb-server, _bulk_docs        {other:>9,.0f} documents/s   ours is {mine / other:.1f} × (goal 5)"
            )
        step("one call by its layers")
        print("\nms of CPU for one call of 50:")
        for name, ms in layers(folder, calls).items():
            print(f"{ms:8.2f}  {name}")
        rows = idle(folder, [int(size) for size in given.sizes.split(",")], calls)
        print("\na sync that brings nothing new, real HTTP:")
        for size, ms in rows.items():
            print(f"{size:>9,} phones enrolled  {ms:.2f} ms")
        if given.profile:
            profile = cProfile.Profile()
            profile.runcall(layers, folder / "again", calls)
            pstats.Stats(profile, stream=sys.stdout).sort_stats("tottime").print_stats(25)
    return 0


def raw_again(folder: Path, seconds: float) -> float:
    for path in folder.glob("raw.db*"):
        path.unlink()
    return raw(folder, seconds)
