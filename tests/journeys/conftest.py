"""One real server and one clinic for all phone journeys; a new browser profile, and new people, for each."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from plytide.settings import WEB_ROOT
from tests.actors import PASSWORD, Server, free_port, plytide, running, stop, wait_until_ready
from tests.journeys.phones import Clinic, Phone, clinic_at, phone_in


@pytest.fixture(autouse=True)
def on_one_day() -> None:
    """A journey begins and ends on the same day: the last minutes of one are waited out."""
    now = datetime.now(UTC)
    left = 86_400 - (now.hour * 3600 + now.minute * 60 + now.second)
    if left < 300:
        time.sleep(left)


@pytest.fixture(scope="session")
def journey_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder = tmp_path_factory.mktemp("journeys")
    data, log, port = folder / "data", folder / "serve.log", free_port()
    named = ("--clinic", "Marram Yard Clinic", "--login", "ida")
    made = plytide("init", "--data", str(data), *named, PLYTIDE_PASSWORD=PASSWORD)
    assert made.returncode == 0, made.stderr
    with running("serve", "--data", str(data), "--port", str(port), log=log) as process:
        url = f"http://127.0.0.1:{port}"
        wait_until_ready(f"{url}/", process, log)
        yield Server(url, data, "ida", PASSWORD, process)


@dataclass
class Deployed:
    """A server whose web files are a copy that can be changed under it."""

    url: str
    web: Path

    def deploy(self, name: str) -> None:
        """A new version: one byte of the shell is another."""
        with (self.web / "phone" / "words.js").open("a") as script:
            script.write(f"// {name}\n")


@pytest.fixture
def deployed(journey_server: Server, tmp_path: Path) -> Iterator[Deployed]:
    """A second server on the same clinic files, serving a copy of the web."""
    web, log, port = tmp_path / "web", tmp_path / "serve.log", free_port()
    shutil.copytree(WEB_ROOT, web)
    command = [sys.executable, "-m", "tests.journeys.serve_copy", str(journey_server.data), str(web), str(port)]
    with log.open("w") as errors:
        process = subprocess.Popen(
            command, cwd=WEB_ROOT.parent, stdin=subprocess.DEVNULL, stderr=errors, text=True, start_new_session=True
        )
        try:
            url = f"http://127.0.0.1:{port}"
            wait_until_ready(f"{url}/", process, log)
            yield Deployed(url, web)
        finally:
            stop(process)


@dataclass
class Later:
    """A clinic on a server of its own, whose clock a journey moves on."""

    clinic: Clinic
    clock: Path

    def forward(self, days: int) -> None:
        self.clock.write_text(str(int(self.clock.read_text()) + days))


@pytest.fixture
def later(tmp_path: Path) -> Iterator[Later]:
    data, log, clock, port = tmp_path / "data", tmp_path / "serve.log", tmp_path / "later", free_port()
    clock.write_text("0")
    named = ("--clinic", "Sandpiper Yard Clinic", "--login", "ida")
    made = plytide("init", "--data", str(data), *named, PLYTIDE_PASSWORD=PASSWORD)
    assert made.returncode == 0, made.stderr
    command = [sys.executable, "-m", "tests.journeys.serve_later", str(data), str(clock), str(port)]
    with log.open("w") as errors:
        process = subprocess.Popen(
            command, cwd=WEB_ROOT.parent, stdin=subprocess.DEVNULL, stderr=errors, text=True, start_new_session=True
        )
        try:
            url = f"http://127.0.0.1:{port}"
            wait_until_ready(f"{url}/", process, log)
            with clinic_at(Server(url, data, "ida", PASSWORD, process)) as made_by:
                yield Later(made_by, clock)
        finally:
            stop(process)


@pytest.fixture(scope="session")
def clinic(journey_server: Server) -> Iterator[Clinic]:
    with clinic_at(journey_server) as made:
        yield made


@pytest.fixture
def new_phone(browser: Browser, journey_server: Server) -> Iterator[Callable[..., Phone]]:
    """Makes phones, each a browser profile of its own. A script that fails unheard fails the test."""
    phones: list[Phone] = []
    faults: list[str] = []

    def make(url: str = journey_server.url, **more: Any) -> Phone:
        held = phone_in(browser, url, **more)
        held.page.on("pageerror", lambda error: faults.append(str(error)))
        held.page.on("console", lambda said: faults.append(said.text) if "Security Policy" in said.text else None)
        phones.append(held)
        return held

    yield make
    for held in phones:
        held.context.close()
    assert faults == []


@pytest.fixture
def phone(new_phone: Callable[..., Phone]) -> Phone:
    return new_phone()


@pytest.fixture
def installed(new_phone: Callable[..., Phone]) -> Phone:
    """A phone that keeps the app for use without a network."""
    return new_phone(service_workers="allow")
