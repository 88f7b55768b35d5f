"""`python -m tests.bench capacity [--quick]`: how many wearers one machine carries, with a clinic or with twenty.

A real `plytide serve` over real files, the background that assesses included. Calls arrive whether or not earlier
ones are answered (Poisson), each over a connection of its own: nine in ten a phone that brings one check-in, the
others staff who open the worklist or a limb. A wait counts from the instant a call was due. The generator runs on the
same machine, so the figures are lower than those of a server alone; TLS is the proxy's and is not measured.
"""

from __future__ import annotations

import argparse
import asyncio
import math
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random

import orjson

from plytide.storage import clinics, rows
from plytide.storage import device as devices
from plytide.storage.ids import digest, new_id, new_secret
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import write
from plytide.work.setup import found_clinic
from tests.actors import free_port

PASSWORD = "a long walk by the water"
GOOD_MS = 250.0
SYNC_SHARE = 0.9
PEAK_SECONDS = 2 * 3600
GIVE_UP = 20.0  # seconds until a caller counts as not answered
MOST_AT_ONCE = 2000


@dataclass
class Wearer:
    token: str
    limb_id: str
    cursor: str | None = None
    made: int = 0

    def checkin(self, on: date, random: Random) -> dict[str, object]:
        self.made += 1
        return {
            "id": f"{self.limb_id}-{self.made:05}",
            "limb_id": self.limb_id,
            "date": on.isoformat(),
            "time": f"{random.randrange(6, 23):02}:{random.randrange(60):02}",
            "offset": "+00:00",
            "moment": "putting_on" if self.made % 2 else "end_of_day",
            "stack": [{"ply": random.choice((3, 3, 3, 5)), "make": "single"}],
            "fit": random.choice(("loose", "good", "good", "good", "tight")),
            "comfort": random.randrange(6, 10),
        }


@dataclass
class Clinic:
    login: str
    wearers: list[Wearer]
    cookie: str = ""


@dataclass
class Round:
    """What one rate brought."""

    rate: float
    calls: int
    answered: int
    ms: tuple[float, float, float]  # 50, 95, 99 %
    by_kind: dict[str, float]  # 95 % of each kind
    cpu: float  # of the server, in cores
    own_cpu: float
    waiting: int
    others: dict[str, int]

    @property
    def good(self) -> bool:
        return self.answered == self.calls and self.ms[1] < GOOD_MS


def filled(folder: Path, clinic_count: int, limbs: int) -> list[Clinic]:
    """Clinics with so many limbs between them, each with a phone; put in through the store."""
    now, made = datetime.now(UTC), []
    for c in range(clinic_count):
        clinic_id, staff_id = found_clinic(folder, f"Clinic {c}", f"staff{c}", "Ida", PASSWORD, {}, now)
        registry = Registry(folder)
        db = clinics.open_clinic(folder, registry, clinic_id)
        wearers = []
        with write(db), write(registry.db):
            for n in range(limbs // clinic_count):
                person_id = rows.add(db, "person", {"name": f"Person {n}", "tags": []}, now)
                fields = {"person_id": person_id, "side": "left", "level": "transtibial"}
                limb_id = rows.add(db, "limb", fields, now)
                enrolment = devices.add_enrolment(db, "wearer", [person_id], staff_id, now)
                token, device_id = new_secret(), new_id()
                devices.add_device(db, device_id, enrolment, f"Phone {n}", now)
                registry.db.conn.execute(
                    "INSERT INTO token (token_hash, clinic_id, device_id) VALUES (?, ?, ?)",
                    (digest(token), clinic_id, device_id),
                )
                wearers.append(Wearer(token, limb_id))
        db.close()
        registry.close()
        made.append(Clinic(f"staff{c}", wearers))
    return made


@contextmanager
def serving(folder: Path, workers: int) -> Iterator[tuple[int, int]]:
    """(port, process group) of a server as it is run, its background as it is by default."""
    port = free_port()
    command = [sys.executable, "-m", "plytide.cli", "serve", "--data", str(folder), "--port", str(port)]
    process = subprocess.Popen(
        [*command, "--workers", str(workers)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        assert process.stdout and process.stdout.readline(), "the server does not start"
        yield port, process.pid
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait(30)
        if process.stdout:
            process.stdout.close()


def cpu_seconds(group: int) -> float:
    """Seconds of CPU that a process group has used so far."""
    ticks = 0
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = path.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[2]) == group:
            ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


async def asked(port: int, method: str, path: str, headers: str = "", body: bytes = b"") -> tuple[int, bytes, bytes]:
    """(status, head, body) of one call over a connection of its own."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    try:
        kind = f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n" if body else ""
        head = f"{method} {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n{headers}{kind}\r\n"
        writer.write(head.encode() + body)
        answer = await reader.read(-1)
    finally:
        writer.close()
    got, _, rest = answer.partition(b"\r\n\r\n")
    return int(got.split(b" ", 2)[1]), got, rest


async def brought(port: int, wearer: Wearer, items: list[dict[str, object]]) -> int:
    body = orjson.dumps({"schema": 1, "cursor": wearer.cursor, "checkins": items})
    status, _, said = await asked(port, "POST", "/api/sync", f"Authorization: Bearer {wearer.token}\r\n", body)
    if status == 200:
        answer = orjson.loads(said)
        assert all(receipt["status"] == "kept" for receipt in answer["receipts"]), answer["receipts"][:1]
        wearer.cursor = answer["cursor"]
    return status


async def figure(port: int, name: str) -> float:
    _, _, said = await asked(port, "GET", "/metrics")
    return next(float(line.split()[-1]) for line in said.decode().splitlines() if line.startswith(f"{name} "))


async def drained(port: int, seconds: float) -> float:
    """Seconds until no limb waits for its assessment, `seconds` at most."""
    start = time.monotonic()
    while time.monotonic() - start < seconds and await figure(port, "plytide_limbs_waiting"):
        await asyncio.sleep(0.5)
    return time.monotonic() - start


async def made_ready(port: int, found: list[Clinic], days: int, random: Random) -> None:
    """Each wearer has logged twice a day until yesterday, staff are signed in, and all limbs are assessed."""
    today = date.today()
    for clinic in found:
        said = orjson.dumps({"login": clinic.login, "password": PASSWORD})
        status, head, _ = await asked(port, "POST", "/api/clinic/session", body=said)
        assert status == 200
        clinic.cookie = next(
            line.split(b": ", 1)[1].split(b";")[0].decode()
            for line in head.split(b"\r\n")
            if line.lower().startswith(b"set-cookie")
        )
        for n, wearer in enumerate(clinic.wearers):
            items = [wearer.checkin(today - timedelta(days=days - i // 2), random) for i in range(2 * days)]
            for start in range(0, len(items), 400):
                assert await brought(port, wearer, items[start : start + 400]) == 200
            if n % 500 == 499:
                print(f"  {n + 1} wearers of {clinic.login} filled in", flush=True)
    took = await drained(port, 300)
    print(f"  all limbs assessed {took:.0f} s later", flush=True)


def percentile(sorted_ms: list[float], share: float) -> float:
    return sorted_ms[min(len(sorted_ms) - 1, math.ceil(share * len(sorted_ms)) - 1)] if sorted_ms else math.inf


async def at_rate(
    port: int, group: int, found: list[Clinic], turn: Iterator[Wearer], rate: float, seconds: float, random: Random
) -> Round:
    """Calls at this rate for so long, whoever is still waiting."""
    today, took, kinds, others = date.today(), [], {"sync": [], "worklist": [], "limb": []}, Counter[str]()
    waiting: set[asyncio.Task[None]] = set()

    async def one(due: float, kind: str) -> None:
        try:
            async with asyncio.timeout(GIVE_UP):
                if kind == "sync":
                    wearer = next(turn)
                    status = await brought(port, wearer, [wearer.checkin(today, random)])
                else:
                    clinic = random.choice(found)
                    limb = random.choice(clinic.wearers).limb_id
                    path = "/api/clinic/worklist" if kind == "worklist" else f"/api/clinic/limbs/{limb}"
                    status, _, _ = await asked(port, "GET", path, f"Cookie: {clinic.cookie}\r\n")
        except (OSError, TimeoutError, IndexError, ValueError) as fault:
            others[type(fault).__name__] += 1
            return
        if status != 200:
            others[str(status)] += 1
            return
        ms = (time.monotonic() - due) * 1000
        took.append(ms)
        kinds[kind].append(ms)

    cpu, own, start = cpu_seconds(group), time.process_time(), time.monotonic()
    due, calls = start, 0
    while (due := due + random.expovariate(rate)) < start + seconds:
        await asyncio.sleep(max(0.0, due - time.monotonic()))
        calls += 1
        if len(waiting) >= MOST_AT_ONCE:
            others["not sent: too many waited"] += 1
            continue
        kind = "sync" if random.random() < SYNC_SHARE else random.choice(("worklist", "limb"))
        task = asyncio.create_task(one(due, kind))
        waiting.add(task)
        task.add_done_callback(waiting.discard)
    lasted = time.monotonic() - start
    cpu, own = (cpu_seconds(group) - cpu) / lasted, (time.process_time() - own) / lasted
    if waiting:
        await asyncio.wait(waiting)
    limbs = int(await figure(port, "plytide_limbs_waiting"))
    took.sort()
    ms = (percentile(took, 0.5), percentile(took, 0.95), percentile(took, 0.99))
    by_kind = {kind: percentile(sorted(found_ms), 0.95) for kind, found_ms in kinds.items()}
    return Round(rate, calls, len(took), ms, by_kind, cpu, own, limbs, dict(others))


def told(one: Round) -> str:
    kinds = ", ".join(f"{kind} {ms:,.0f}" for kind, ms in one.by_kind.items() if ms < math.inf)
    others = f"  {one.others}" if one.others else ""
    return (
        f"{one.rate:>7.0f}/s {one.answered:>6} of {one.calls:<6} p50 {one.ms[0]:>6,.0f}  p95 {one.ms[1]:>6,.0f}"
        f"  p99 {one.ms[2]:>6,.0f} ms  ({kinds})  CPU {one.cpu:.2f} + {one.own_cpu:.2f} ours"
        f"  {one.waiting} limbs wait{others}"
    )


async def climbed(
    port: int, group: int, found: list[Clinic], rates: list[float], seconds: float, days: int
) -> tuple[Round | None, Round | None]:
    """(the best good round, the first that was not)."""
    random = Random(1)
    await made_ready(port, found, days, random)
    everybody = [wearer for clinic in found for wearer in clinic.wearers]
    random.shuffle(everybody)

    def turns() -> Iterator[Wearer]:
        while True:  # a wearer comes again only after all others
            yield from everybody

    turn, best, bad = turns(), None, None
    await at_rate(port, group, found, turn, rates[0], 2, random)  # until every worker is warm
    for rate in rates:
        one = await at_rate(port, group, found, turn, rate, seconds, random)
        print(told(one), flush=True)
        behind = await drained(port, 60)
        if one.waiting:
            print(f"          the last of them assessed {behind:.0f} s after the last call", flush=True)
        if not one.good:
            bad = one
            break
        best = one
    if best and bad:
        between = math.sqrt(best.rate * bad.rate)
        one = await at_rate(port, group, found, turn, between, seconds, random)
        print(told(one), flush=True)
        best = one if one.good else best
    return best, bad


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench capacity")
    parser.add_argument("--quick", action="store_true", help="one clinic, few limbs, short rounds: under a minute")
    parser.add_argument("--clinics", default="1,20")
    parser.add_argument("--limbs", type=int, default=2000, help="in all clinics together")
    parser.add_argument("--days", type=int, default=30, help="how long each wearer has logged, twice a day")
    parser.add_argument("--seconds", type=float, default=12, help="at each rate")
    parser.add_argument("--rates", default="10,20,40,80,160,320,640")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args(argv)
    if given.quick:
        given.clinics, given.limbs, given.days, given.seconds, given.rates = "1", 200, 10, 4.0, "20,80,320"
    rates = [float(rate) for rate in given.rates.split(",")]
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; the generator is on the same machine", flush=True)
    for count in map(int, given.clinics.split(",")):
        print(
            f"\nclinics: {count}; {given.limbs} limbs, {given.days} days of two check-ins a day behind each", flush=True
        )
        with tempfile.TemporaryDirectory(prefix="plytide-bench-") as inside:
            folder = Path(inside) / "data"
            found = filled(folder, count, given.limbs)
            with serving(folder, given.workers) as (port, group):
                best, bad = asyncio.run(climbed(port, group, found, rates, given.seconds, given.days))
        if best is None:
            print(f"not even {rates[0]:.0f} calls a second with 95 % under {GOOD_MS:.0f} ms")
            continue
        syncs = best.rate * SYNC_SHARE
        print(
            f"highest rate with all answered and 95 % under {GOOD_MS:.0f} ms: {best.rate:.0f} calls a second"
            + ("" if bad else " (the highest that was tried)")
            + f"\n{best.rate:.0f} x {SYNC_SHARE} = {syncs:.0f} check-ins a second x {PEAK_SECONDS} s = "
            f"{syncs * PEAK_SECONDS:,.0f} in the two busiest hours. "
            f"A wearer logs twice a day; if half of a day's entries"
            f" fall into those hours, that is one each: {syncs * PEAK_SECONDS:,.0f} wearers by the rate of calls"
            f" (measured over {given.limbs:,} limbs; so many in one file was not tried)"
        )
    return 0
