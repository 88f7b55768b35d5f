"""What all tests share: a fixed day, the cast in a real app, real servers, a real browser.

The app is imported only by the fixtures that make one, so that the tests of the pure rooms start at once.
"""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from playwright.sync_api import Browser, Page, expect, sync_playwright

from plytide.settings import Settings
from tests import chromium
from tests.actors import (
    PASSWORD,
    Actor,
    Cast,
    Clock,
    Demo,
    Server,
    Wearer,
    first_line,
    free_port,
    plytide,
    running,
    wait_until_ready,
)

# Commands and servers are started some hundred times: where an environment forbids it, each would compile all anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
AS_INSTALLED = str(Path(__file__).with_name("as_installed"))
os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, (AS_INSTALLED, os.environ.get("PYTHONPATH"))))
if sys.modules.get("pandas", sys) is None:  # a worker of the test run, itself a command that was started so
    del sys.modules["pandas"]

# Tests, the servers they start and the browser have one calendar, wherever the suite runs.
os.environ["TZ"] = "UTC"
time.tzset()
expect.set_options(timeout=chromium.PATIENCE)

TODAY = date(2025, 9, 15)
NOON = datetime(2025, 9, 15, 12, 0, tzinfo=UTC)


@pytest.fixture
def today() -> date:
    """A Monday. Rooms below the routes are told the day; no test of theirs reads the clock."""
    return TODAY


@pytest.fixture
def clock() -> Clock:
    return Clock(NOON)


# The cast, made once through the real calls; each test gets a copy of the files.


def signed_in(app: Flask, login: str) -> Actor:
    answer = Actor(app).post("/api/clinic/session", {"login": login, "password": PASSWORD})
    assert answer.status_code == 200, answer.get_json()
    cookie = answer.headers["Set-Cookie"].split(";", 1)[0]
    return Actor(app, {"Cookie": cookie, "X-CSRF-Token": answer.get_json()["csrf"]})


def joined(app: Flask, staff: Actor, name: str, born: str, limbs: list[dict[str, Any]], role: str) -> Wearer:
    """A new person with limbs and a socket on each, and an enrolled phone."""
    person = staff.made("/api/clinic/people", {"name": name, "born_on": born, "tags": []})
    limb_ids = []
    for limb in limbs:
        limb_id = staff.made(f"/api/clinic/people/{person['id']}/limbs", limb)["id"]
        staff.made(f"/api/clinic/limbs/{limb_id}/sockets", SOCKET)
        limb_ids.append(limb_id)
    wanted = {"role": role, "person_ids": [person["id"]]}
    code = staff.made(f"/api/clinic/people/{person['id']}/enrolment-codes", wanted)["code"]
    token = Actor(app).made("/api/enrol", {"code": code, "label": f"{name}'s phone"})["token"]
    return Wearer(name, person["id"], tuple(limb_ids), bearing(app, token), token)


def bearing(app: Flask, token: str) -> Actor:
    return Actor(app, {"Authorization": f"Bearer {token}"})


SOCKET = {
    "fitted_on": "2025-05-05",
    "purpose": "preparatory",
    "suspension": "pin_lock",
    "weight_limit_kg": 125,
    "stack_at_fitting": [{"ply": 3, "make": "single"}],
}
LEFT = {
    "side": "left",
    "level": "transtibial",
    "amputated_on": "2025-02-03",
    "reference_circumference_mm": 300,
}
RIGHT = {**LEFT, "side": "right"}


@pytest.fixture(scope="session")
def quick_hash() -> None:
    """Argon2id at its least cost in this process: half of the suite's time went into it.

    Real servers in processes of their own keep the shipped cost, which tests/auth/test_password_hash.py holds.
    """
    from argon2 import PasswordHasher
    from argon2.profiles import CHEAPEST

    from plytide.auth import password_hash

    password_hash.passwords = PasswordHasher.from_parameters(CHEAPEST)
    password_hash.NOBODY = password_hash.hash_password("nobody has this password")


@pytest.fixture(scope="session")
def first_night(quick_hash: None, tmp_path_factory: pytest.TempPathFactory) -> Cast:
    """Both clinics with everybody in, before any test has touched them."""
    from plytide.cli import main
    from plytide.http.app import create_app

    data = tmp_path_factory.mktemp("cast")
    with pytest.MonkeyPatch.context() as environment:
        environment.setenv("PLYTIDE_PASSWORD", PASSWORD)
        at = ["--data", str(data)]
        assert main(["init", *at, "--clinic", "Marram Yard Clinic", "--login", "nora"]) == 0
        assert main(["init", *at, "--clinic", "Sallow Bridge Clinic", "--login", "teodor"]) == 0
        for login, role in (("ida", "prosthetist"), ("juno", "assistant")):
            assert main(["staff", *at, "--clinic-of", "nora", "--login", login, "--role", role]) == 0
    clock = Clock(NOON)
    app = create_app(Settings(data_dir=data, now=clock, sweep_seconds=0))
    ida, teodor = signed_in(app, "ida"), signed_in(app, "teodor")
    return Cast(
        app=app,
        clock=clock,
        nora=signed_in(app, "nora"),
        ida=ida,
        juno=signed_in(app, "juno"),
        anouk=joined(app, ida, "Anouk", "1968-04-02", [LEFT], "wearer"),
        bram=joined(app, ida, "Bram", "2017-11-20", [{**RIGHT, "amputated_on": None}], "caregiver"),
        dov=joined(app, ida, "Dov", "1981-01-30", [LEFT, RIGHT], "wearer"),
        teodor=teodor,
        esme=joined(app, teodor, "Esme", "1990-07-14", [LEFT], "wearer"),
        nobody=Actor(app),
    )


@pytest.fixture
def settings(first_night: Cast, tmp_path: Path, clock: Clock) -> Settings:
    """Settings of a server whose clinics hold the cast, and whose clock stands at noon of `today`."""
    made: Settings = first_night.app.config["SETTINGS"]
    data = tmp_path / "data"
    shutil.copytree(made.data_dir, data)
    return replace(made, data_dir=data, now=clock)


@pytest.fixture
def app(settings: Settings) -> Flask:
    from plytide.http.app import create_app

    return create_app(settings)


@pytest.fixture
def cast(first_night: Cast, app: Flask, clock: Clock) -> Cast:
    def moved(actor: Actor) -> Actor:
        return replace(actor, app=app)

    def wearer(one: Wearer) -> Wearer:
        return replace(one, phone=moved(one.phone))

    night = first_night
    return Cast(
        app=app,
        clock=clock,
        nora=moved(night.nora),
        ida=moved(night.ida),
        juno=moved(night.juno),
        anouk=wearer(night.anouk),
        bram=wearer(night.bram),
        dov=wearer(night.dov),
        teodor=moved(night.teodor),
        esme=wearer(night.esme),
        nobody=moved(night.nobody),
    )


# Real servers.


@pytest.fixture(scope="session")
def new_clinic(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder as `plytide init` leaves it, to be copied."""
    return founded(tmp_path_factory.mktemp("new-clinic") / "data")


def founded(data: Path) -> Path:
    named = ("--clinic", "Marram Yard Clinic", "--login", "ida")
    made = plytide("init", "--data", str(data), *named, PLYTIDE_PASSWORD=PASSWORD)
    assert made.returncode == 0, made.stderr
    return data


@pytest.fixture
def serve(new_clinic: Path, tmp_path: Path) -> Iterator[Callable[..., Server]]:
    """Starts `plytide serve` on a new clinic; call it with more options of the command."""
    open_servers = []

    def start(*options: str) -> Server:
        data = tmp_path / f"served-{len(open_servers)}"
        if "PLYTIDE_DATABASE_KEY_FILE" in os.environ:  # under a key from its first byte on
            founded(data)
        else:
            shutil.copytree(new_clinic, data)
        port, log = free_port(), tmp_path / f"serve-{len(open_servers)}.log"
        command = running("serve", "--data", str(data), "--port", str(port), *options, log=log)
        process = command.__enter__()
        open_servers.append(command)
        url = f"http://127.0.0.1:{port}"
        wait_until_ready(f"{url}/", process, log)
        return Server(url, data, "ida", PASSWORD, process)

    yield start
    for command in open_servers:
        command.__exit__(None, None, None)


@pytest.fixture
def server(serve: Callable[..., Server]) -> Server:
    """A real gunicorn with a clinic that has a prosthetist and nobody else."""
    return serve()


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    """One running demo clinic for all tests that only look at it."""
    folder = tmp_path_factory.mktemp("demo")
    log = folder / "demo.log"
    day = datetime.now(UTC).date()
    with running("demo", "--json", "--port", "0", "--data", str(folder / "data"), log=log) as process:
        about = first_line(process, log)
        yield Demo(about["url"], about, process, day)


# A real browser.


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        path = chromium.executable(playwright.chromium.executable_path)
        if path is None and os.environ.get("CI") == "true":
            pytest.fail(chromium.HOW)
        if path is None:
            pytest.skip(chromium.HOW)
        opened = playwright.chromium.launch(executable_path=path, args=chromium.ARGS)
        yield opened
        opened.close()


def page_of(browser: Browser, **context: Any) -> Iterator[Page]:
    """A page of a browser profile of its own. A script that fails unheard fails the test."""
    own = browser.new_context(**context)
    own.set_default_timeout(chromium.PATIENCE)
    page = own.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page
    own.close()
    assert faults == []


@pytest.fixture
def phone_page(browser: Browser) -> Iterator[Page]:
    yield from page_of(browser, viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True)


@pytest.fixture
def desk_page(browser: Browser) -> Iterator[Page]:
    yield from page_of(browser, viewport={"width": 1280, "height": 800})
