"""`python -m tests.bench proof [--rounds N | --quick]`: what the proof costs a sync, as a ratio in one run.

Calls with and without the proof take turns over the same file, so that what else the machine does meets both alike.
Processor time of this process and time by the clock, below HTTP.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from unittest import mock

from plytide.storage import device as devices
from plytide.storage.sqlite import connect
from plytide.work import sync
from tests.conftest import NOON
from tests.trust.cast_alone import cast_in

BLOCK = 20  # calls in a row, before the other has its turn


@contextmanager
def unproved() -> Iterator[None]:
    """As the server would be without proofs: no notes, no digests, no name of them in the audit's lines."""
    with (
        mock.patch("plytide.storage.facts.floor", lambda _db: None),
        mock.patch("plytide.storage.facts.keep_call", lambda *_: None),
        mock.patch("plytide.storage.facts.head", lambda _db: ""),
    ):
        yield


def main(argv: list[str]) -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("--rounds", type=int, default=15)
    asked.add_argument("--quick", action="store_true", help="two rounds")
    given = asked.parse_args(argv)
    rounds = 2 if given.quick else given.rounds
    with tempfile.TemporaryDirectory(dir="/dev/shm") as folder:
        cast = cast_in(Path(folder) / "data", NOON)
        wearer = cast.anouk
        device_id = wearer.phone.get("/api/me").get_json()["device"]["id"]
        paths = list((Path(folder) / "data" / "clinics").glob("*.db"))
        for path in paths:
            db = connect(path)
            device = devices.live_device(db, device_id)
            if device:
                break
            db.close()
        assert device is not None

        def call(size: int, cursor: str | None) -> tuple[float, float, str]:
            items = [wearer.checkin(NOON.date(), note="dry") for _ in range(size)]
            wall, cpu = time.perf_counter(), time.process_time()
            said = sync.exchange(db, device, items, sync.read_cursor(cursor), cast.clock.now, 0, 500)
            return time.perf_counter() - wall, time.process_time() - cpu, said["cursor"]

        for size in (1, 50):
            took: dict[bool, list[tuple[float, float]]] = {True: [], False: []}
            _, _, cursor = call(size, None)
            for turn in range(2 * rounds):
                proved = bool(turn % 2)
                with nullcontext() if proved else unproved():
                    for _ in range(BLOCK):
                        wall, cpu, cursor = call(size, cursor)
                        took[proved].append((wall, cpu))
            said = []
            for n, name in enumerate(("clock", "processor")):
                with_, without = (statistics.median(one[n] for one in took[proved]) for proved in (True, False))
                said.append(f"{name} {1000 * with_:.2f} / {1000 * without:.2f} ms = {with_ / without:.2f}")
            print(f"{size:3} check-ins a call, with / without the proof: {'; '.join(said)}")
        db.close()
    return 0
