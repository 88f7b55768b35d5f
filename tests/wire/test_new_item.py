"""The recipe "Add an item", done in a copy of the tree: an invented item goes the whole way, and back.

The copy's own server runs, and the phone's own modules log, offer and take back; a restore makes them offer again.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from plytide.wire import checkin as wire
from seed_demo.door import HttpDoor, sign_in
from tests.actors import PASSWORD, free_port, stop, wait_until_ready
from tests.node import node

ROOT = Path(__file__).resolve().parents[2]
LIST = Path("web/shared/checkin-fields.js")
ROLES = ("wearer", "caregiver", "caregiver")
ITEM, VALUE = "cushion_mm", 6.5
LAST = '    left_off = Choice(("yes", "no", "cannot_say"), allow_none=True)  # the socket, as the phone had advised\n'
ENDS = "    withdrawn: bool = False  # a correction that takes the entry back\n"
PERSON = {"name": "Iris Fell", "born_on": "1968-04-02", "tags": []}
LIMB = {"side": "left", "level": "transtibial", "amputated_on": "2024-01-01", "reference_circumference_mm": 300}
SOCKET = {"fitted_on": "2024-06-01", "purpose": "preparatory", "suspension": "pin_lock", "stack_at_fitting": []}


def test_the_phones_list_is_the_definitions() -> None:
    said = (ROOT / LIST).read_text(encoding="utf-8")
    assert said == wire.for_the_phone(), "python -m plytide.wire.checkin > web/shared/checkin-fields.js"


@dataclass
class Tree:
    """A copy of the tree that can be changed, its data, and its phones."""

    folder: Path
    phones: dict[str, dict[str, Any]] = field(default_factory=dict)
    url: str = ""

    def __post_init__(self) -> None:
        seen = shutil.ignore_patterns("__pycache__", "*.pyc")
        shutil.copytree(ROOT / "server", self.folder / "server", ignore=seen)
        shutil.copytree(ROOT / "web", self.folder / "web", ignore=seen)
        self.environment = {**os.environ, "PYTHONPATH": str(self.folder / "server"), "PLYTIDE_PASSWORD": PASSWORD}

    def python(self, *args: str) -> str:
        done = subprocess.run(
            [sys.executable, *args], cwd=self.folder, env=self.environment, capture_output=True, text=True, timeout=60
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    def plytide(self, *args: str) -> str:
        return self.python("-m", "plytide.cli", *args)

    def insert(self, path: str, mark: str, line: str) -> None:
        text = (self.folder / path).read_text(encoding="utf-8")
        assert text.count(mark) == 1, mark
        (self.folder / path).write_text(text.replace(mark, mark + line), encoding="utf-8")

    def add_item(self) -> None:
        """The recipe, as far as the chain needs it."""
        self.insert("server/plytide/wire/checkin.py", LAST, f'    {ITEM} = Number(0, 20, "mm", allow_none=True)\n')
        (self.folder / LIST).write_text(self.python("-m", "plytide.wire.checkin"), encoding="utf-8")
        self.insert("server/plytide/model.py", ENDS, f"    {ITEM}: float | None = None\n")

    @contextmanager
    def serving(self) -> Iterator[HttpDoor]:
        port, log = free_port(), self.folder / "serve.log"
        command = [
            sys.executable,
            "-m",
            "plytide.cli",
            "serve",
            "--data",
            "data",
            "--port",
            str(port),
            "--workers",
            "1",
        ]
        with log.open("w") as errors:
            process = subprocess.Popen(
                command, cwd=self.folder, env=self.environment, stdout=errors, stderr=errors, text=True,
                stdin=subprocess.DEVNULL, start_new_session=True,
            )  # fmt: skip
        self.url = f"http://127.0.0.1:{port}"
        door = HttpDoor(self.url)
        try:
            wait_until_ready(f"{self.url}/", process, log)
            yield door
        finally:
            door.connection.close()
            stop(process)

    def phone(self, name: str, web: Path | None = None, **does: Any) -> dict[str, Any]:
        """One pass of a phone that goes on from where it was: what it holds afterwards."""
        done = subprocess.run(
            [node(), str(ROOT / "tests/wire/phone.mjs"), str(web or self.folder / "web"), self.url],
            input=json.dumps({**self.phones.get(name, {}), **does}), capture_output=True, text=True, timeout=60,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        self.phones[name] = json.loads(done.stdout)
        return self.phones[name]


def values(phone: dict[str, Any]) -> list[tuple[str, Any]]:
    return [(row["state"], row["checkin"].get(ITEM)) for row in phone["rows"]]


def way_of_the_item(tree: Tree) -> None:
    """Logged on one phone, kept, lost by a restore, offered again by another that only ever read it, and back."""
    tree.plytide("init", "--data", "data", "--clinic", "Marram Yard Clinic", "--login", "ida")
    with tree.serving() as door:
        staff = sign_in(door, "ida", PASSWORD)
        person = staff.call("POST", "/api/clinic/people", PERSON)["id"]
        limb = staff.call("POST", f"/api/clinic/people/{person}/limbs", LIMB)["id"]
        staff.call("POST", f"/api/clinic/limbs/{limb}/sockets", SOCKET)
        path = f"/api/clinic/people/{person}/enrolment-codes"
        codes = [staff.call("POST", path, {"role": role, "person_ids": [person]})["code"] for role in ROLES]
        tree.phone("hers", code=codes[0])
        tree.phone("his", code=codes[1])
        tree.plytide("backup", "backup", "--data", "data")
        assert values(tree.phone("hers", log={ITEM: VALUE})) == [("kept", VALUE)], "never sent"
        assert values(tree.phone("hers")) == [("kept", VALUE)], "lost by the phone that wrote it, at its next sync"
        assert values(tree.phone("his")) == [("kept", VALUE)], "not read by the other phone"
        # The fault this is for, so that this test can see it: a phone whose list was forgotten loses the value.
        assert values(tree.phone("old", ROOT / "web", code=codes[2])) == [("kept", None)]
    tree.plytide("restore", "backup", "--data", "data", "--force")
    with tree.serving() as door:
        staff = sign_in(door, "ida", PASSWORD)
        assert told(staff, limb) == []
        his = tree.phone("his")
        assert his["restored"] and values(his) == [("kept", VALUE)]
        assert told(staff, limb) == [VALUE], "not at the clinic, after another's phone offered it again"
        hers = tree.phone("hers")
        assert hers["restored"] and values(hers) == [("kept", VALUE)], "the two phones held different texts"
        fixed = tree.phone("hers", correct={"id": hers["rows"][0]["id"], "draft": {"comfort": 3}})
        assert values(fixed) == [("kept", VALUE)] * 2, "lost by a correction of something else"
        assert told(staff, limb)[-1] == VALUE
        status, described, _ = door.call("GET", "/api/openapi.json")
        assert status == 200
        assert described["components"]["schemas"]["CheckIn"]["properties"][ITEM]["maximum"] == 20


def told(staff: Any, limb: str) -> list[Any]:
    """What the clinic's page of the limb shows, in order."""
    days = staff.call("GET", f"/api/clinic/limbs/{limb}")["days"]
    return [one[ITEM] for day in days for one in day["checkins"]]


NOUNS = f"""
from plytide.export.csv_files import COLUMNS
from plytide.wire import checkin as wire
least = dict(id="c1", date="2026-05-02", stack=[], comfort=5, {ITEM}={VALUE})
offered = wire.quick(dict(least, limb_id="a"))
print(offered == wire.slow(dict(least, limb_id="a")), wire.quick(dict(least, limb_id="a", {ITEM}=21)), COLUMNS[-1])
print(wire.plain(least, "a").{ITEM}, wire.noun(1, "c1", "a", offered.body, None).{ITEM}, wire.__file__)
"""


@pytest.fixture
def tree(tmp_path: Path) -> Tree:
    return Tree(tmp_path)


def test_an_item_added_by_the_recipe_goes_the_whole_way_and_back(tree: Tree) -> None:
    tree.add_item()
    alike, read = tree.python("-c", NOUNS).splitlines()
    assert alike == f"True None {ITEM}"
    assert read.split()[:2] == [str(VALUE)] * 2
    assert read.split()[2].startswith(str(tree.folder)), "another tree was read"
    way_of_the_item(tree)
