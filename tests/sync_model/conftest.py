"""The cast with a second phone on Anouk's limb; worlds in memory, where a walk takes no disk's time."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from plytide.http.app import create_app
from plytide.settings import Settings
from tests.actors import Actor, Cast
from tests.conftest import bearing
from tests.sync_model.phone import ALL, Rules
from tests.sync_model.world import World

MEMORY = Path("/dev/shm")

Worlds = Callable[..., World]


@pytest.fixture(scope="session")
def worlds(first_night: Cast) -> Iterator[Worlds]:
    """Makes a world of its own at each call, from a seed."""
    root = Path(tempfile.mkdtemp(prefix="plytide-model-", dir=MEMORY if MEMORY.is_dir() else None))
    made: Settings = first_night.app.config["SETTINGS"]
    shutil.copytree(made.data_dir, root / "cast")
    app = create_app(replace(made, data_dir=root / "cast"))
    cast = replace(first_night, app=app, ida=replace(first_night.ida, app=app), nobody=Actor(app))
    person = cast.anouk.id
    code = cast.ida.made(f"/api/clinic/people/{person}/enrolment-codes", {"role": "caregiver"})["code"]
    second = bearing(app, cast.nobody.made("/api/enrol", {"code": code, "label": "Kitchen phone"})["token"])
    count = 0

    def world(seed: int = 0, rules: Rules = ALL) -> World:
        nonlocal count
        count += 1
        for old in root.glob("world-*"):
            shutil.rmtree(old)
        folder = root / f"world-{count}"
        folder.mkdir()
        return World(cast, second, folder, seed, rules)

    yield world
    shutil.rmtree(root)
