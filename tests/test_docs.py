"""The documents, held against the tree: what they promise exists, and what exists is written down."""

from __future__ import annotations

import hashlib
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
CONSTRAINTS = (ROOT / ".ci" / "constraints.txt").read_text()
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "server", "web", "tests", "seed_demo"}


def readme_commands() -> list[str]:
    return re.findall(r"^```sh\n(.+)\n```$", README, re.MULTILINE)


def plytide(*args: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "plytide.cli", *args], capture_output=True, text=True, timeout=60, check=True
    )
    return done.stdout


def subcommands() -> set[str]:
    listed = set(re.findall(r"^    (\w+)\s{2,}\S", plytide("--help"), re.MULTILINE))
    assert len(listed) > 5, "plytide --help lists too few commands"
    return listed


def tracked() -> list[str]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("not a git clone: cannot tell what belongs to the project")
    return listed.stdout.split("\n")[:-1]


def test_readme_has_exactly_two_commands_and_both_do_all_set_up():
    start, check = readme_commands()
    install = "python3 -m venv .venv && .venv/bin/pip install -q -c .ci/constraints.txt -e "
    assert start == f"{install}. && .venv/bin/plytide demo"
    assert check == f"{install}'.[dev]' && .venv/bin/python -m pytest"


def test_ci_runs_the_readme_test_command_as_it_stands():
    assert readme_commands()[1] in (ROOT / ".ci" / "run").read_text().split("\n")


def test_every_command_is_in_the_readme_and_the_readme_names_no_other():
    documented = set(re.findall(r"^\| `plytide (\w+)", README, re.MULTILINE))
    assert documented == subcommands()


def test_every_command_explains_itself():
    for name in subcommands():
        assert len(plytide(name, "--help").split("\n")) > 3, name


def test_every_option_in_the_readme_exists():
    for line in re.findall(r"^\| `(plytide \w+[^|`]*(?:\|[^`]*)?)`", README, re.MULTILINE):
        name = line.split()[1]
        told = plytide(name, "--help")
        for option in re.findall(r"--[\w-]+", line):
            assert option in told, f"plytide {name} has no {option}"


def test_the_map_of_places_is_the_tree():
    mapped = set(re.findall(r"^\| `([\w./]+/)` \|", DEVELOPERS, re.MULTILINE))
    folders = [path.split("/")[:-1] for path in tracked()]
    rooms = {"/".join(folder[:2]) + "/" for folder in folders if folder[:1] in (["server"], ["web"]) and folder[1:]}
    others = {f"{folder[0]}/" for folder in folders if folder and folder[0] not in ("server", "web")}
    placed = rooms | others
    assert mapped == placed


def test_the_top_level_holds_only_what_the_map_allows():
    extra = {path.split("/")[0] for path in tracked()} - TOP_LEVEL
    assert {name for name in extra if not name.startswith(".")} == set()


def test_constraints_are_versions_and_nothing_else():
    wrong = [line for line in CONSTRAINTS.split("\n")[:-1] if not re.fullmatch(r"[a-z0-9-]+==[\w.+!]+", line)]
    assert wrong == []


def test_every_dependency_is_pinned():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    needs = project["dependencies"] + sum(project["optional-dependencies"].values(), [])
    names = {re.sub(r"[-_.]+", "-", re.split(r"[\s>=<;\[]", need)[0]).lower() for need in needs}
    pinned = {line.split("==")[0] for line in CONSTRAINTS.split("\n")}
    assert names - pinned == set()


def test_vendored_files_are_the_published_ones():
    listed = (ROOT / "web" / "vendor" / "VENDOR.md").read_text()
    rows = re.findall(r"^\| `([^`]+)` \|.*\| `([0-9a-f]{64})` \|$", listed, re.MULTILINE)
    vendor = ROOT / "web" / "vendor"
    assert {name for name, _ in rows} == {p.name for p in vendor.iterdir()} - {"VENDOR.md"}
    for name, digest in rows:
        assert hashlib.sha256((vendor / name).read_bytes()).hexdigest() == digest, name


def test_no_file_names_a_place_of_one_machine():
    mark = re.compile(r"(?<![\w.])/(?:work|root|farm)/\w|/tmp/bash_jobs")
    wrong = []
    for path in tracked():
        if "/vendor/" in path or not (ROOT / path).is_file():
            continue
        try:
            text = (ROOT / path).read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        if path != "tests/test_docs.py" and mark.search(text):
            wrong.append(path)
    assert wrong == []
