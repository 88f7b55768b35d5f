"""`python -m tests.bench worklist [--sizes 100,10000,100000]`: the worklist's first page and a later one, by caseload.

Rows are put in through the store, as a round leaves them; each call goes through the whole app.
"""

from __future__ import annotations

import argparse
import json
import statistics
import tempfile
import time
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np

from plytide import model
from plytide.http.app import create_app
from plytide.settings import Settings
from plytide.storage import assessment as assessments
from plytide.storage import clinics, rows
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import write
from plytide.work import signal_life
from plytide.work.setup import found_clinic
from tests.bench import step

NOW = datetime(2025, 9, 15, 12, tzinfo=UTC)
PASSWORD = "a long walk by the water"
CALLS = 60


def fill(data: Path, limbs: int) -> None:
    """A caseload as a round leaves it: about 1 % urgent, 8 % to call, 10 % to note."""
    clinic_id, _ = found_clinic(data, "Marram Yard Clinic", "ida", "Ida", PASSWORD, {}, NOW)
    registry = Registry(data)
    db = clinics.open_clinic(data, registry, clinic_id)
    rng = np.random.default_rng(1)
    spark = json.dumps([{"date": "2025-09-01", "pct": -1.25}] * 22)
    body = json.dumps({"as_of": "2025-09-15", "readiness": {"state": "steady", "since": None, "settles_on": None}})
    with write(db):
        for n in range(limbs):
            person = rows.add(db, "person", {"name": f"Person {n}", "born_on": "1960-01-01", "tags": []}, NOW)
            limb = rows.add(db, "limb", {"person_id": person, "side": "left", "level": "transtibial"}, NOW)
            urgency = int(rng.choice(4, p=(0.81, 0.10, 0.08, 0.01)))
            since = f"2025-0{rng.integers(1, 9)}-{rng.integers(10, 28)}"
            if urgency:
                level = model.SIGNAL_LEVELS[urgency - 1]
                signal_life.reconcile(
                    db, limb, [model.Signal("skin", level, date.fromisoformat(since), "Because.")], NOW
                )
            kept = assessments.Kept(
                limb,
                "2025-09-15",
                "steady",
                None,
                urgency,
                since,
                "Because.",
                spark,
                "2025-09-14",
                body,
                "2025-09-15T12:00:00+00:00",
            )
            assessments.save(db, kept, None)
    db.conn.execute("ANALYZE")
    db.close()
    registry.close()


def measure(limbs: int) -> dict[str, float]:
    """Median and 95th percentile in ms of the first page, and of a page in the middle."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder)
        fill(data, limbs)
        app = create_app(Settings(data_dir=data, now=lambda: NOW, sweep_seconds=0))
        client = app.test_client()
        signed = client.post("/api/clinic/session", json={"login": "ida", "password": PASSWORD})
        assert signed.status_code == 200
        onward = ""
        for _ in range(min(10, max(1, limbs // 50 - 1))):
            answer = client.get("/api/clinic/worklist", query_string={"next": onward} if onward else {}).get_json()
            onward = answer["next"]
        took: dict[str, list[float]] = {"first": [], "later": []}
        for name, query in (("first", {}), ("later", {"next": onward} if onward else {})):
            for _ in range(CALLS):
                start = time.perf_counter()
                answer = client.get("/api/clinic/worklist", query_string=query)
                took[name].append((time.perf_counter() - start) * 1000)
                assert answer.status_code == 200 and len(answer.get_json()["limbs"]) <= 50
    found = {}
    for name, values in took.items():
        found[f"{name} median"] = statistics.median(values)
        found[f"{name} p95"] = sorted(values)[int(0.95 * len(values))]
    return found


def main(argv: list[str]) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench worklist")
    parser.add_argument("--sizes", default="100,10000,100000")
    parser.add_argument("--quick", action="store_true", help="without the largest")
    given = parser.parse_args(argv)
    sizes = [int(size) for size in ("100,10000" if given.quick else given.sizes).split(",")]
    rows = {}
    for size in sizes:
        step(f"{size:,} limbs")
        rows[size] = measure(size)
    print(f"{'limbs':>8}  {'first median':>13}  {'first p95':>10}  {'later median':>13}  {'later p95':>10}   (ms)")
    for size, row in rows.items():
        print(
            f"{size:>8}  {row['first median']:>13.1f}  {row['first p95']:>10.1f}"
            f"  {row['later median']:>13.1f}  {row['later p95']:>10.1f}"
        )
    base, last = rows[sizes[0]], rows[sizes[-1]]
    print(f"{sizes[-1]:,} against {sizes[0]:,} limbs: {last['first median'] / base['first median']:.2f} × (first page)")
