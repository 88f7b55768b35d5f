"""Many phones through a bad network at a real `plytide serve` that is killed again and again; then the count.

What is proved: kill -9 of processes at any instant, with any fault of the network. A loss of power is not: that
rests on synchronous=FULL, which a test of the connections holds.
"""

from __future__ import annotations

import asyncio
import os
import secrets
import signal
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random

import orjson

from plytide.storage import audit, clinics, rows
from plytide.storage import device as devices
from plytide.storage.files import backup
from plytide.storage.ids import digest, new_id
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import connect, write
from plytide.work.setup import found_clinic
from tests.actors import free_port
from tests.chaos.proxy import Gone, Proxy, message

BATCH = 50
AT_ONCE = 12  # calls under way at a time
PHONES_A_LIMB = 2


@dataclass
class Phone:
    """By the rules of the real one; of what is receipted and read it remembers the ids only."""

    token: str
    limb_id: str
    n: int
    outbox: dict[str, bytes] = field(default_factory=dict)  # on its disk; in the order of the ids
    receipted: set[str] = field(default_factory=set)
    seen: list[str] = field(default_factory=list)
    reached: int = 0
    cursor: str | None = None
    epoch: str | None = None
    made: int = 0
    faults: list[str] = field(default_factory=list)

    def write(self, count: int, random: Random) -> None:
        for _ in range(count):
            self.made += 1
            id_ = f"p{self.n:05}-{self.made:07}"
            day = date(2023, 1, 1) + timedelta(days=self.made // 3 % 900)
            checkin: dict[str, object] = {
                "id": id_,
                "limb_id": self.limb_id,
                "date": day.isoformat(),
                "time": f"{random.randrange(24):02}:{random.randrange(60):02}",
                "offset": "+01:00",
                "moment": random.choice(("putting_on", "during", "end_of_day")),
                "stack": [{"ply": random.choice((1, 2, 3, 5)), "make": "single"}],
                "fit": random.choice(("loose", "good", "tight", None)),
                "comfort": random.randrange(11),
                "hours_worn": random.choice((None, 8, 9.5)),
                "note": f"note {self.made} of phone {self.n}",
            }
            if self.made % 23 == 0:
                checkin["replaces"] = f"p{self.n:05}-{self.made - 1:07}"
            self.outbox[id_] = orjson.dumps(checkin)

    def call(self, path_and_token: tuple[str, str]) -> tuple[bytes, int]:
        offered = [body for body, _ in zip(self.outbox.values(), range(BATCH), strict=False)]
        body = b'{"schema":1,"cursor":%s,"checkins":[%s]}' % (orjson.dumps(self.cursor), b",".join(offered))
        host, token = path_and_token
        head = (
            f"POST /api/sync HTTP/1.1\r\nHost: {host}\r\nAuthorization: Bearer {token}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\nConnection: close\r\n\r\n"
        )
        return head.encode() + body, len(offered)

    def learn(self, answer: bytes) -> bool:
        """One whole answer, rows and cursor together; whether it was an answer and more waits."""
        head, _, body = answer.partition(b"\r\n\r\n")
        if not head.startswith(b"HTTP/1.1 200"):
            return False
        said = orjson.loads(body)
        for receipt in said["receipts"]:
            if receipt["status"] == "refused":
                self.faults.append(f"refused {receipt}")
            elif self.outbox.pop(receipt["id"], None) is not None:
                self.receipted.add(receipt["id"])
        if self.epoch not in (None, said["epoch"]):
            self.faults.append("the epoch changed and nothing was restored")
        for change in said["changes"]:
            if change["type"] != "checkin":
                continue
            if change["seq"] <= self.reached:
                self.faults.append(f"out of order: {change['seq']} after {self.reached}")
            self.reached = change["seq"]
            self.seen.append(change["id"])
        self.epoch, self.cursor, self.more = said["epoch"], said["cursor"], said["more"]
        return True

    more: bool = True


def found(folder: Path, phones: int) -> list[Phone]:
    """A clinic with enrolled phones, two to each limb, put in through the store: enrolling is not what is tried."""
    now = datetime.now(UTC)
    clinic_id, staff_id = found_clinic(folder, "Marram Yard Clinic", "ida", "Ida", "a long walk by the water", {}, now)
    registry = Registry(folder)
    db = clinics.open_clinic(folder, registry, clinic_id)
    made = []
    with write(db), write(registry.db):
        for n in range(phones):
            if n % PHONES_A_LIMB == 0:
                person_id = rows.add(db, "person", {"name": f"Person {n}", "tags": []}, now)
                limb_id = rows.add(db, "limb", {"person_id": person_id, "side": "left", "level": "transtibial"}, now)
            enrolment = devices.add_enrolment(db, "wearer", [person_id], staff_id, now)
            token, device_id = secrets.token_urlsafe(32), new_id()
            devices.add_device(db, device_id, enrolment, f"Phone {n}", now)
            registry.db.conn.execute(
                "INSERT INTO token (token_hash, clinic_id, device_id) VALUES (?, ?, ?)",
                (digest(token), clinic_id, device_id),
            )
            made.append(Phone(token, limb_id, n))
    db.close()
    registry.close()
    return made


class Served:
    """`plytide serve` in a process group of its own, always on one port."""

    def __init__(self, folder: Path, workers: int) -> None:
        self.folder, self.workers, self.port = folder, workers, free_port()
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        options = ("--data", str(self.folder), "--port", str(self.port), "--workers", str(self.workers))
        self.process = subprocess.Popen(
            [sys.executable, "-m", "plytide.cli", "serve", *options],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
            # The background thread is at work too, but does not take the machine from what is tried here.
            env={**os.environ, "PLYTIDE_SWEEP_SECONDS": "15"},
        )

    def kill(self) -> None:
        """-9 to the whole group: arbiter, workers and reviewers, wherever they are."""
        if self.process is not None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()

    def kill_workers(self) -> None:
        """-9 to every worker; gunicorn's arbiter starts others."""
        assert self.process is not None
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()
        for pid in children:
            try:
                os.kill(int(pid), signal.SIGKILL)
            except ProcessLookupError:
                pass

    def answers(self) -> bool:
        try:
            urllib.request.urlopen(f"http://127.0.0.1:{self.port}/api/me", timeout=5)
        except urllib.error.HTTPError as error:
            error.close()
            return True
        except OSError:
            return False
        return True


@dataclass
class Count:
    """What the run came to."""

    said: int = 0
    receipted: int = 0
    kept: int = 0
    lost: int = 0
    doubled: int = 0
    out_of_order: int = 0
    not_seen: int = 0
    calls: int = 0
    unanswered: int = 0
    whole_kills: int = 0
    worker_kills: int = 0
    seconds: float = 0
    in_time: bool = True
    faults: list[str] = field(default_factory=list)
    network: Counter[str] = field(default_factory=Counter)

    @property
    def good(self) -> bool:
        return self.in_time and not (
            self.lost or self.doubled or self.out_of_order or self.not_seen or self.faults or self.said != self.kept
        )

    def words(self) -> str:
        network = ", ".join(f"{name} {times}" for name, times in sorted(self.network.items()))
        lines = [
            f"{self.said:,} check-ins said, {self.receipted:,} receipted, {self.kept:,} kept",
            f"lost {self.lost}, doubled {self.doubled}, out of order {self.out_of_order}, unseen {self.not_seen}",
            f"kills: {self.whole_kills} of the whole server, {self.worker_kills} of all its workers",
            f"calls: {self.calls:,}, of them without an answer {self.unanswered:,}; network: {network}",
            f"{self.seconds:.0f} s" + ("" if self.in_time else " and not done in time"),
            *self.faults[:10],
        ]
        return "\n".join(lines)


class Run:
    def __init__(
        self,
        folder: Path,
        *,
        kills: int,
        checkins: int,
        seconds: float,
        phones: int,
        workers: int,
        seed: int,
        whole: float,
    ) -> None:
        self.random, self.kills, self.seconds, self.whole = Random(seed), kills, seconds, whole
        self.folder = folder
        self.phones = found(folder, phones)
        self.each = -(-checkins // phones)
        self.served = Served(folder, workers)
        self.proxy = Proxy(self.served.port, self.random)
        self.count = Count()
        self.gate = asyncio.Semaphore(AT_ONCE)
        self.killed = asyncio.Event()

    async def one_call(self, phone: Phone) -> bool:
        async with self.gate:
            call, _ = phone.call((f"127.0.0.1:{self.proxy_port}", phone.token))
            self.count.calls += 1
            answer = b""
            writer = None
            try:
                reader, writer = await asyncio.open_connection("127.0.0.1", self.proxy_port, limit=8_000_000)
                writer.write(call)
                await writer.drain()
                answer = await asyncio.wait_for(message(reader), 30)
            except (OSError, Gone, TimeoutError):
                pass
            finally:
                if writer is not None:
                    writer.close()
            if answer and phone.learn(answer):
                return True
            self.count.unanswered += 1
            return False

    async def live(self, phone: Phone) -> None:
        """Write, sync, fail, wait with full jitter, until all is said; then until all has been heard and killed."""
        failures = 0
        while not self.over():
            left = self.each - phone.made
            if left and len(phone.outbox) < 2 * BATCH:
                # The killing lasts as long as the saying: nobody runs far ahead of it.
                share = self.count.whole_kills + self.count.worker_kills + 1
                if self.kills and phone.made > self.each * (share + 1) / self.kills:
                    if not phone.outbox:
                        await asyncio.sleep(self.random.uniform(0.1, 0.5))
                        continue
                else:
                    phone.write(min(left, self.random.randrange(1, 2 * BATCH)), self.random)
            if not left and not phone.outbox and self.killed.is_set() and not phone.more:
                return
            if await self.one_call(phone):
                failures = 0
                if not phone.outbox and not phone.more and not left:
                    await asyncio.sleep(self.random.uniform(0, 1))
            else:
                failures += 1
                await asyncio.sleep(self.random.uniform(0, min(2.0, 0.1 * 2**failures)))

    def receipted(self) -> int:
        return sum(len(phone.receipted) for phone in self.phones)

    def over(self) -> bool:
        return time.monotonic() > self.until

    async def wait_until_up(self) -> None:
        while not self.over() and not await asyncio.to_thread(self.served.answers):
            await asyncio.sleep(0.05)

    async def killer(self) -> None:
        for n in range(self.kills):
            await self.wait_until_up()
            # Spread over all that is said, else the last kill would come before most of it.
            while self.receipted() < len(self.phones) * self.each * n / self.kills and not self.over():
                await asyncio.sleep(0.02)
            await asyncio.sleep(self.random.uniform(0.0, 0.6))
            if self.over():
                break
            if (n + 1) * self.whole >= self.count.whole_kills + 1:
                await asyncio.to_thread(self.served.kill)
                await asyncio.to_thread(self.served.start)
                self.count.whole_kills += 1
            else:
                self.served.kill_workers()
                self.count.worker_kills += 1
            if (n + 1) % 10 == 0:
                print(f"{n + 1} kills, {self.receipted():,} receipted", file=sys.stderr, flush=True)
        await self.wait_until_up()
        self.killed.set()

    async def go(self) -> Count:
        started = time.monotonic()
        self.until = started + self.seconds
        self.proxy_port = await self.proxy.start()
        self.served.start()
        try:
            await self.wait_until_up()
            killer = asyncio.create_task(self.killer())
            await asyncio.gather(killer, *(self.live(phone) for phone in self.phones))
            # All is calm: each phone reads on until it has seen all the others wrote.
            self.proxy.calm = True
            for phone in self.phones:
                for _ in range(200):
                    before = phone.cursor
                    if await self.one_call(phone) and phone.cursor == before and not phone.outbox:
                        break
                    if self.over():
                        break
            await self.proxy.close()
        finally:
            self.served.kill()
        self.count.seconds = time.monotonic() - started
        self.count.in_time = not self.over() and all(p.made == self.each and not p.outbox for p in self.phones)
        self.reckon()
        return self.count

    def reckon(self) -> None:
        """Count on the files themselves, after the last kill."""
        count = self.count
        count.network = self.proxy.done
        count.said = sum(phone.made for phone in self.phones)
        count.receipted = sum(len(phone.receipted) for phone in self.phones)
        count.faults += [f"phone {phone.n}: {fault}" for phone in self.phones for fault in phone.faults]
        count.faults += backup.check(self.folder)
        (path,) = (self.folder / "clinics").glob("*.db")
        db = connect(path)
        bodies: Counter[str] = Counter()
        of_limb: dict[str, list[str]] = {}
        last: dict[str, str] = {}
        for _, id_, limb_id, note in db.conn.execute(
            "SELECT seq, id, limb_id, body ->> 'note' FROM checkin ORDER BY seq"
        ):
            bodies[note] += 1
            of_limb.setdefault(limb_id, []).append(id_)
            if id_ <= last.get(id_[:6], ""):
                count.out_of_order += 1
            last[id_[:6]] = id_
        count.kept = sum(bodies.values())
        count.doubled = sum(times - 1 for times in bodies.values())
        kept = {id_ for ids in of_limb.values() for id_ in ids}
        count.lost = sum(len(phone.receipted - kept) for phone in self.phones)
        count.not_seen = sum(phone.seen != of_limb.get(phone.limb_id, []) for phone in self.phones)
        count.out_of_order += sum("out of order" in fault for phone in self.phones for fault in phone.faults)
        broken = audit.first_broken_line(db)
        if broken is not None:
            count.faults.append(f"the audit chain breaks at {broken}")
        db.close()


def run(
    *,
    kills: int,
    checkins: int,
    seconds: float,
    phones: int = 40,
    workers: int = 3,
    seed: int = 1,
    whole: float = 1.0,
    folder: Path | None = None,
) -> Count:
    """One run in a folder of its own."""
    with tempfile.TemporaryDirectory(prefix="plytide-chaos-", dir=folder, ignore_cleanup_errors=True) as inside:

        async def all_of_it() -> Count:
            made = Run(
                Path(inside) / "data",
                kills=kills,
                checkins=checkins,
                seconds=seconds,
                phones=phones,
                workers=workers,
                seed=seed,
                whole=whole,
            )
            return await made.go()

        return asyncio.run(all_of_it())
