"""Who acts in a test: staff with a session, a phone with a token, a server of its own. Nothing is mocked."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from flask import Flask
from werkzeug.test import TestResponse

from seed_demo.diary import uuid7

Json = dict[str, Any]


@dataclass
class Clock:
    """The server's clock in a test: stands still until it is moved."""

    now: datetime

    def __call__(self) -> datetime:
        return self.now

    def forward(self, **by: float) -> None:
        self.now += timedelta(**by)


@dataclass
class Actor:
    """Somebody who calls the app with their own headers and nobody else's cookies."""

    app: Flask
    headers: dict[str, str] = field(default_factory=dict)

    def call(self, method: str, path: str, body: Any = None, **options: Any) -> TestResponse:
        headers = {**self.headers, **options.pop("headers", {})}
        client = self.app.test_client(use_cookies=False)
        return client.open(path, method=method, json=body, headers=headers, **options)

    def get(self, path: str, **options: Any) -> TestResponse:
        return self.call("GET", path, **options)

    def post(self, path: str, body: Any = None, **options: Any) -> TestResponse:
        return self.call("POST", path, body, **options)

    def patch(self, path: str, body: Any = None, **options: Any) -> TestResponse:
        return self.call("PATCH", path, body, **options)

    def put(self, path: str, body: Any = None, **options: Any) -> TestResponse:
        return self.call("PUT", path, body, **options)

    def delete(self, path: str, **options: Any) -> TestResponse:
        return self.call("DELETE", path, **options)

    def made(self, path: str, body: Any = None) -> Any:
        """Post something that must succeed; its JSON."""
        answer = self.post(path, body)
        assert answer.status_code in (200, 201), (path, answer.status_code, answer.get_json())
        return answer.get_json()


@dataclass
class Wearer:
    """A person of the cast: ids on the server, and the phone that writes for them."""

    name: str
    id: str
    limb_ids: tuple[str, ...]
    phone: Actor
    token: str

    @property
    def limb_id(self) -> str:
        return self.limb_ids[0]

    def sync(self, *checkins: Json, cursor: str | None = None) -> TestResponse:
        return self.phone.post("/api/sync", {"schema": 1, "cursor": cursor, "checkins": list(checkins)})

    def checkin(self, on: date, **said: Any) -> Json:
        """The least a check-in needs, for the first limb unless told otherwise."""
        return checkin(self.limb_id, on, **said)


_ids = np.random.default_rng(20250915)


def checkin(limb_id: str, on: date, **said: Any) -> Json:
    """A plain morning of a settled wearer: one 3-ply sock, comfort 8."""
    return {
        "id": uuid7(datetime(on.year, on.month, on.day, 7, 40, tzinfo=UTC), _ids),
        "limb_id": limb_id,
        "date": on.isoformat(),
        "moment": "putting_on",
        "stack": [{"ply": 3, "make": "single"}],
        "comfort": 8,
        **said,
    }


@dataclass
class Cast:
    """The same people in every test.

    Nora is the manager, Ida the prosthetist and Juno the assistant of the clinic of Anouk (one limb), of Bram
    (a child: the phone is a caregiver's) and of Dov (both legs). Esme belongs to another clinic, that of
    Teodor, its manager: they must never see anything of the first, nor be seen by it.
    """

    app: Flask
    clock: Clock
    nora: Actor
    ida: Actor
    juno: Actor
    anouk: Wearer
    bram: Wearer
    dov: Wearer
    teodor: Actor
    esme: Wearer
    nobody: Actor


PASSWORD = "a long walk by the water"


# A real server, in a process of its own.


@dataclass
class Server:
    """A running `plytide serve`: gunicorn, a free port, a data folder of its own."""

    url: str
    data: Path
    login: str
    password: str
    process: subprocess.Popen[str]


def plytide(*args: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the command as a user would, to its end."""
    return subprocess.run(
        [sys.executable, "-m", "plytide.cli", *args],
        env={**os.environ, **environment},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=600,
    )


def free_port() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])


@contextmanager
def running(*args: str, log: Path) -> Iterator[subprocess.Popen[str]]:
    """A `plytide` command that goes on running; ended with the whole group it started."""
    with log.open("w") as errors:
        process = subprocess.Popen(
            [sys.executable, "-m", "plytide.cli", *args],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=errors,
            text=True,
            start_new_session=True,
        )
        try:
            yield process
        finally:
            stop(process)


def stop(process: subprocess.Popen[str]) -> None:
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGTERM)
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(10)
    if process.stdout:
        process.stdout.close()


def wait_until_ready(url: str, process: subprocess.Popen[str], log: Path, seconds: float = 120) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if process.poll() is not None:
            break
        try:
            with urllib.request.urlopen(url, timeout=5):
                return
        except urllib.error.HTTPError as answered:
            answered.close()
            return
        except OSError:
            time.sleep(0.05)
    raise AssertionError(f"no server at {url}: {log.read_text()[-2000:]}")


@dataclass
class Demo:
    """A running `plytide demo --json`: where it listens, and its first line."""

    url: str
    about: Json
    process: subprocess.Popen[str]
    on: date  # the day it was filled


def first_line(process: subprocess.Popen[str], log: Path) -> Json:
    assert process.stdout
    line = process.stdout.readline()
    assert line, f"the demo ended without a word: {log.read_text()[-2000:]}"
    about: Json = json.loads(line)
    return about


def fields_of(answer: Any) -> list[str]:
    """The fields a refused body is refused by."""
    assert answer.status_code == 422, (answer.status_code, answer.get_json())
    return sorted(answer.get_json()["error"]["fields"])
