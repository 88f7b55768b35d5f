"""`.ci/again`: a journey that failed once is told from one that fails, and nothing else is waved through."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

AGAIN = Path(__file__).parents[1] / ".ci" / "again"

BARE = {**os.environ, "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1", "PYTEST_PLUGINS": "xdist.plugin"}  # starts sooner
FAILS = "def test_it():\n    assert False\n"
FAILS_ONCE = """
from pathlib import Path


def test_it():
    been = Path(__file__).with_suffix(".been")
    before = been.exists()
    been.touch()
    assert before
"""
IS_SKIPPED_THEN = FAILS_ONCE.replace(
    "    assert before", "    if before: __import__('pytest').skip()\n    assert False"
)
FAILS_AT_LAST = FAILS_ONCE.replace(
    "    assert before", "    been.write_text(been.read_text() + '.')\n    assert been.read_text() in ('..', '...')"
)


def tried(root: Path, **files: str) -> tuple[int, str, str]:
    """A run of these tests in a checkout of their own, then `again`: its exit, what it says, and what else it says."""
    (root / ".ci").mkdir()
    shutil.copy(AGAIN, root / ".ci")
    (root / ".venv").symlink_to(sys.prefix)
    (root / "pytest.ini").write_text("[pytest]\naddopts = -ra --import-mode=importlib\n")
    for name, text in files.items():
        path = root / "tests" / f"{name.replace('__', '/')}.py"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    if files:
        command = [sys.executable, "-m", "pytest", "-q", "-n", "0", "tests"]
        assert subprocess.run(command, cwd=root, env=BARE, capture_output=True, timeout=300).returncode == 1
    command = ["bash", str(root / ".ci" / "again")]
    done = subprocess.run(command, env=BARE, capture_output=True, text=True, timeout=300)
    return done.returncode, done.stdout, done.stderr


def test_what_failed_once_passes_and_is_named(tmp_path: Path) -> None:
    code, said, _ = tried(tmp_path, journeys__test_one=FAILS_ONCE, journeys__test_two=FAILS_ONCE)
    assert code == 0
    assert "failed once, then passed three times alone:\n  tests/journeys/test_one.py::test_it\n" in said
    assert "tests/journeys/test_two.py::test_it" in said


@pytest.mark.parametrize(
    ("files", "why"),
    [
        ({}, "it is not known which"),
        ({"journeys__test_one": FAILS}, "tests/journeys/test_one.py::test_it"),
        ({"journeys__test_one": FAILS_AT_LAST}, "tests/journeys/test_one.py::test_it"),
        ({"journeys__test_one": IS_SKIPPED_THEN}, "did not run"),
        ({"journeys__test_one": FAILS_ONCE, "web__test_one": FAILS_ONCE}, "is no browser journey"),
        ({f"journeys__test_{n}": FAILS_ONCE for n in "abcd"}, "4 of them"),
    ],
    ids=["none", "always", "at last", "skipped", "elsewhere", "too many"],
)
def test_anything_else_stays_a_failure(tmp_path: Path, files: dict[str, str], why: str) -> None:
    code, said, error = tried(tmp_path, **files)
    assert (code, said) == (1, "")
    assert error.rstrip().split("\n")[-1].startswith("The tests failed: ") and why in error.rstrip().split("\n")[-1]
