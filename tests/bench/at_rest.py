"""`python -m tests.bench at_rest [--quick]`: what encrypted databases cost, against plain ones in the same run.

Each way is measured in a process of its own, in turns, so that what else the machine does meets both: opening a
file, 50 rows a transaction on the disk, reading them back, and check-ins a second through a real server.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from plytide.storage.clinic_migrations import clinic_migrations
from plytide.storage.files.keys import new_key
from plytide.storage.sqlite import connect, prepare, write
from tests.bench.sync import ours

BATCH = 50
NAMES = {
    "open": "opening a file, a second",
    "write": "rows written a second, 50 a transaction",
    "read": "rows read a second, by key, from a new connection",
    "sync": "check-ins kept a second, through the server",
}


def measured(folder: Path, seconds: float) -> dict[str, float]:
    """Each figure as so many a second. The process has a key or it has none."""
    path = folder / "one.db"
    prepare(path, clinic_migrations)
    db = connect(path)
    db.conn.execute("CREATE TABLE page (n INTEGER PRIMARY KEY, body TEXT NOT NULL) STRICT")
    body, n, said = "x" * 400, 0, {}
    start = time.perf_counter()
    while time.perf_counter() - start < seconds:
        with write(db):
            db.conn.executemany("INSERT INTO page VALUES (?, ?)", [(n + i, body) for i in range(BATCH)])
        n += BATCH
    said["write"] = n / (time.perf_counter() - start)
    db.close()
    start, read = time.perf_counter(), 0
    while time.perf_counter() - start < seconds:
        db = connect(path)  # new: nothing is in its cache
        for i in range(0, n, max(1, n // 500)):
            db.conn.execute("SELECT body FROM page WHERE n = ?", (i,)).fetchone()
            read += 1
        db.close()
    said["read"] = read / (time.perf_counter() - start)
    start, opened = time.perf_counter(), 0
    while time.perf_counter() - start < seconds:
        db = connect(path)
        db.conn.execute("SELECT count(*) FROM limb").fetchone()
        db.close()
        opened += 1
    said["open"] = opened / (time.perf_counter() - start)
    said["sync"] = ours(folder, max(2.0, seconds * 2), 2)
    return said


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench at_rest")
    parser.add_argument("--quick", action="store_true", help="one short round")
    parser.add_argument("--child", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--seconds", type=float, default=2)
    given = parser.parse_args(argv)
    if given.child:
        print(json.dumps(measured(given.child, given.seconds)))
        return 0
    rounds, seconds = (1, 1.0) if given.quick else (3, given.seconds)
    found: dict[str, list[dict[str, float]]] = {"plain": [], "encrypted": []}
    with tempfile.TemporaryDirectory(prefix="plytide-bench-") as inside:
        key = Path(inside) / "database.key"
        new_key(key)
        for n in range(rounds):
            for way in found if n % 2 == 0 else reversed(found):
                folder = Path(inside) / f"{way}-{n}"
                folder.mkdir()
                environment = {**os.environ, "PLYTIDE_DATABASE_KEY_FILE": str(key) if way == "encrypted" else ""}
                command = [sys.executable, "-m", "tests.bench", "at_rest", "--child", str(folder)]
                done = subprocess.run(
                    [*command, "--seconds", str(seconds)], env=environment, capture_output=True, text=True, check=True
                )
                found[way].append(json.loads(done.stdout.splitlines()[-1]))
                print(f"round {n + 1} of {rounds}, {way}: done", flush=True)
    for name, words in NAMES.items():
        plain, encrypted = (statistics.median(one[name] for one in found[way]) for way in found)
        print(f"{words}: plain {plain:,.0f}, encrypted {encrypted:,.0f}: {plain / encrypted:.2f} x the time")
    return 0
