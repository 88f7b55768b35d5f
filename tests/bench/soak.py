"""`python -m tests.bench soak [--quick] [--minutes M]`: mixed load with kills for a long time; memory and descriptors.

A real `plytide serve`. Phones bring check-ins, staff open worklists and limbs, callers trickle, do not read and leave
half way; every so often a worker is killed, and now and then the whole server. What a receipt called kept is counted
against the file at the end. Memory (proportional set size) and open descriptors of the workers are read as it goes: a
leak is a line that climbs within the life of one worker.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from random import Random

import orjson

from plytide.storage import audit, clinics
from plytide.storage.registry.registry import Registry
from tests.actors import free_port
from tests.bench.capacity import PASSWORD, Clinic, asked, filled

RATE = 12.0


@dataclass
class Worker:
    """What was read of one worker as it lived: (seconds, kB, descriptors)."""

    seen: list[tuple[float, int, int]]

    def climb(self) -> tuple[float, float]:
        """kB and descriptors more in the last third of its life than in the middle one, each by the median."""
        third = len(self.seen) // 3
        middle, last = sorted(self.seen[third : 2 * third]), sorted(self.seen[2 * third :])
        at = [sorted(one[i] for one in part)[len(part) // 2] for i in (1, 2) for part in (middle, last)]
        return at[1] - at[0], at[3] - at[2]


def children(pid: int) -> list[int]:
    return [int(one) for one in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def read_of(pid: int) -> tuple[int, int] | None:
    try:
        text = Path(f"/proc/{pid}/smaps_rollup").read_text()
        kb = next(int(line.split()[1]) for line in text.splitlines() if line.startswith("Pss:"))
        return kb, len(os.listdir(f"/proc/{pid}/fd"))
    except (OSError, StopIteration):
        return None


class Soak:
    def __init__(self, folder: Path, found: list[Clinic], minutes: float, seed: int) -> None:
        self.folder, self.found, self.random = folder, found, Random(seed)
        self.port, self.until = free_port(), time.monotonic() + minutes * 60
        self.process: subprocess.Popen[bytes] | None = None
        self.kept: dict[str, set[str]] = {clinic.login: set() for clinic in found}
        self.answers: Counter[str] = Counter()
        self.workers: dict[int, Worker] = {}
        self.kills: Counter[str] = Counter()

    def start(self) -> None:
        command = [sys.executable, "-m", "plytide.cli", "serve", "--data", str(self.folder), "--port", str(self.port)]
        self.process = subprocess.Popen(
            [*command, "--workers", "2"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, start_new_session=True
        )
        assert self.process.stdout and self.process.stdout.readline(), "the server does not start"

    def stop(self, how: int) -> None:
        assert self.process
        os.killpg(self.process.pid, how)
        self.process.wait(60)
        if self.process.stdout:
            self.process.stdout.close()

    async def call(self) -> None:
        clinic = self.random.choice(self.found)
        wearer = self.random.choice(clinic.wearers)
        kind = self.random.choices(("sync", "worklist", "limb", "me", "rude"), (60, 12, 12, 10, 6))[0]
        try:
            async with asyncio.timeout(60):
                if kind == "rude":
                    await self.rude()
                elif kind == "sync":
                    items = [
                        wearer.checkin(date.today(), self.random) for _ in range(self.random.choice((1, 1, 1, 30)))
                    ]
                    body = orjson.dumps({"schema": 1, "cursor": wearer.cursor, "checkins": items})
                    bearer = f"Authorization: Bearer {wearer.token}\r\n"
                    status, _, said = await asked(self.port, "POST", "/api/sync", bearer, body)
                    self.answers[f"{kind} {status}"] += 1
                    if status == 200:
                        answer = orjson.loads(said)
                        kept = {one["id"] for one in answer["receipts"] if one["status"] == "kept"}
                        self.kept[clinic.login] |= kept
                        wearer.cursor = answer["cursor"]
                elif kind == "me":
                    bearer = f"Authorization: Bearer {wearer.token}\r\n"
                    self.answers[f"{kind} {(await asked(self.port, 'GET', '/api/me', bearer))[0]}"] += 1
                else:
                    path = "/api/clinic/worklist" if kind == "worklist" else f"/api/clinic/limbs/{wearer.limb_id}"
                    status, *_ = await asked(self.port, "GET", path, f"Cookie: {clinic.cookie}\r\n")
                    self.answers[f"{kind} {status}"] += 1
        except (OSError, TimeoutError, ValueError, IndexError) as fault:
            self.answers[f"{kind} {type(fault).__name__}"] += 1

    async def rude(self) -> None:
        """One who trickles, one who does not read, one who leaves."""
        said = self.random.choice((b"GET /heal", b"GET /vendor/chart.umd.js HTTP/1.1\r\nHost: x\r\n\r\n" * 8))
        stream = socket.socket()
        stream.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        stream.settimeout(10)
        try:
            stream.connect(("127.0.0.1", self.port))
            stream.send(said)
            await asyncio.sleep(self.random.choice((0.0, 5.0)))
        finally:
            stream.close()

    def look(self) -> None:
        assert self.process
        for pid in children(self.process.pid):
            if (read := read_of(pid)) is not None:
                self.workers.setdefault(pid, Worker([])).seen.append((time.monotonic(), *read))

    async def signed_in(self) -> None:
        for clinic in self.found:
            said = orjson.dumps({"login": clinic.login, "password": PASSWORD})
            status, head, _ = await asked(self.port, "POST", "/api/clinic/session", body=said)
            assert status == 200, status
            line = next(line for line in head.split(b"\r\n") if line.lower().startswith(b"set-cookie"))
            clinic.cookie = line.split(b": ", 1)[1].split(b";")[0].decode()

    async def run(self, kill_every: float) -> None:
        self.start()
        await self.signed_in()
        begun = time.monotonic()
        kill_at, look_at, waiting = begun + kill_every, begun, set[asyncio.Task[None]]()
        while time.monotonic() < self.until:
            await asyncio.sleep(self.random.expovariate(RATE))
            if len(waiting) < 60:
                task = asyncio.create_task(self.call())
                waiting.add(task)
                task.add_done_callback(waiting.discard)
            if time.monotonic() > look_at:
                self.look()
                look_at = time.monotonic() + 2
            if time.monotonic() > kill_at:
                kill_at = time.monotonic() + kill_every
                if self.random.random() < 0.3:
                    self.stop(signal.SIGKILL)
                    self.kills["server"] += 1
                    await asyncio.to_thread(self.start)
                elif alive := children(self.process.pid if self.process else 0):
                    os.kill(self.random.choice(alive), signal.SIGKILL)
                    self.kills["worker"] += 1
        if waiting:
            await asyncio.wait(waiting)
        self.stop(signal.SIGTERM)

    def lost(self) -> int:
        """Check-ins called kept that the file does not hold."""
        registry, count = Registry(self.folder), 0
        for clinic in self.found:
            whose = registry.whose_login(clinic.login)
            assert whose
            db = clinics.open_clinic(self.folder, registry, whose[0])
            held = {row[0] for row in db.conn.execute("SELECT id FROM checkin")}
            count += len(self.kept[clinic.login] - held)
            assert audit.faults(db) == []
            db.close()
        registry.close()
        return count


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench soak")
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--kill-every", type=float, default=60, help="seconds")
    parser.add_argument("--limbs", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--quick", action="store_true", help="one minute with three kills")
    given = parser.parse_args(argv)
    if given.quick:
        given.minutes, given.kill_every = 1.0, 15.0
    with tempfile.TemporaryDirectory(prefix="plytide-soak-") as inside:
        folder = Path(inside) / "data"
        soak = Soak(folder, filled(folder, 2, given.limbs), given.minutes, given.seed)
        asyncio.run(soak.run(given.kill_every))
        lost = soak.lost()
    print(f"{given.minutes:g} minutes, load {os.getloadavg()[0]:.1f}; killed: {dict(soak.kills)}")
    print("answers: " + ", ".join(f"{what}: {count}" for what, count in sorted(soak.answers.items())))
    print(f"check-ins called kept: {sum(map(len, soak.kept.values()))}, of them lost: {lost}")
    for pid, worker in soak.workers.items():
        if len(worker.seen) < 12:
            continue
        first, last = worker.seen[0], worker.seen[-1]
        kb, descriptors = worker.climb()
        print(
            f"worker {pid}: {last[0] - first[0]:.0f} s, {first[1] / 1000:.0f} to {last[1] / 1000:.0f} MB, at most"
            f" {max(one[1] for one in worker.seen) / 1000:.0f}; descriptors {first[2]} to {last[2]}, at most"
            f" {max(one[2] for one in worker.seen)}; last third against the middle: {kb:+.0f} kB, {descriptors:+.0f}"
        )
    return int(lost > 0)
