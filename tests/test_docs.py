"""The documents, held against the tree: what they promise exists, and what exists is written down."""

from __future__ import annotations

import hashlib
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from plytide.engine.volume import CONSTANTS

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
HAZARDS = (ROOT / "web" / "shared" / "HAZARDS.md").read_text()
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
    listed = set(re.findall(r"^  (\w+)\s{2,}\S", plytide("--help"), re.MULTILINE))
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


def texts() -> Iterator[tuple[str, str]]:
    """(path, text) of every tracked file of ours that is text, but this one, which names what it looks for."""
    for path in tracked():
        if "/vendor/" in path or path == "tests/test_docs.py" or not (ROOT / path).is_file():
            continue
        try:
            yield path, (ROOT / path).read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue


def found(mark: re.Pattern[str], but: tuple[str, ...] = ()) -> list[str]:
    return [
        f"{path}:{text.count(chr(10), 0, hit.start()) + 1}: {hit.group()}"
        for path, text in texts()
        if path not in but
        for hit in mark.finditer(text)
    ]


def test_no_file_names_a_place_of_one_machine():
    assert found(re.compile(r"(?<![\w.])/(?:work|root|farm)/\w|/tmp/bash_jobs")) == []


# What a reader of this repository cannot open is no source.
NOT_HERE = re.compile(
    r"\b[Ff]acts,? (?:T\d|section|page)|\b(?:as |said )?in the facts\b"
    r"|\bclinical facts\b|\bT[1-9]\d?b?\b(?!:\d)(?= ?[:(.,)]| [a-z])"
    r"|\b(?:facts|design|contract|engine-notes|platform)\.md\b|\b[Tt]he design(?:'s| document| says)\b"
    r"|\b[Tt]he contract(?:'s| says)\b|(?<![\w/])shared/(?:published|facts|design)"
)
# Said of a source without saying whose: a name, or the word judgement, stands there instead.
UNNAMED = re.compile(
    r"\([Pp]atient page\)|\b(?:[Tt]rade page|[Ee]xam(?:-preparation)? material|[Tt]wo (?:hospital )?leaflets"
    r"|[Aa] public patient leaflet"
    r"|a children.s hospital(?: leaflet)?\b)"
)
UNNAMED_YET: tuple[str, ...] = ()
MAKERS_WORDS = re.compile(r"seal[_ -]?in(?![a-z])|basalt|laminat(?:ed|ion) directly", re.IGNORECASE)
OLD_NAMES = (
    "server/plytide/model.py",  # reads the old names
    "server/plytide/storage/clinic_migrations.py",  # brings old rows over
    "tests/storage/test_generic_names.py",
)


def test_no_document_outside_the_tree_is_cited():
    assert found(NOT_HERE) == []


def test_a_source_is_named_or_called_judgement():
    assert found(UNNAMED, UNNAMED_YET) == []


def test_no_makers_word_stands_for_a_kind_of_thing():
    assert found(MAKERS_WORDS, OLD_NAMES) == []


def test_no_public_persons_name_is_in_the_demo():
    assert found(re.compile(r"\bHana\b|Vondr[aá][cč]kov")) == []


@pytest.mark.parametrize(
    ("mark", "text"),
    [
        (NOT_HERE, "# Facts, section 1: loaded thickness"),
        (NOT_HERE, '"""Facts T4: levels"""'),
        (NOT_HERE, "# facts T9: 3+1+1 is 2.6 mm"),
        (NOT_HERE, '"""T16: 20 min is fine"""'),
        (NOT_HERE, "(facts T8, T8b)"),
        (NOT_HERE, "`source` and `status` as in the facts."),
        (NOT_HERE, "What the contract's first line says"),
        (NOT_HERE, "Rooms beside the design's map."),
        (NOT_HERE, "design.md section 2"),
        (UNNAMED, "gives instability, trade page."),
        (UNNAMED, "exam-preparation material; others"),
        (UNNAMED, "two hospital leaflets: call"),
        (UNNAMED, "can affect fit (patient page)."),
        (MAKERS_WORDS, "seal-in liner"),
        (MAKERS_WORDS, "suspension: seal_in"),
        (MAKERS_WORDS, "Laminated directly on the limb"),
    ],
)
def test_the_marks_would_find_what_stood_there(mark: re.Pattern[str], text: str):
    assert mark.search(text)


def test_steady_is_said_with_the_doubt_that_is_asked_for():
    """3 % a side leaves 94 in 100 inside: "nine in ten" would be another rule."""
    assert (CONSTANTS.enter, CONSTANTS.leave, CONSTANTS.hold) == (0.03, 0.06, 3)
    words = (ROOT / "web" / "clinic" / "words.js").read_text()
    for said in (
        README.split("*Steady*")[1].split("\n")[0],
        words.split("STATE_MEANS")[1].split("steady: ")[1].split("\n")[0],
    ):
        assert "3 %" in said and "6 %" in said and "three days" in said and "nine in ten" not in said
    hazard = next(line for line in HAZARDS.split("\n") if line.startswith("| A recast is cast on a limb"))
    assert "3 %" in hazard and "nine in ten" not in hazard
