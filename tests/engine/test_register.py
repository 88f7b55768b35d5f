"""The folder of signals is their list, and so is that of languages: one file more is all that either takes."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path
from string import Formatter

import pytest

from plytide.engine import signals
from plytide.engine.language import Language
from plytide.engine.languages import because_in
from plytide.engine.sentences import in_english, sentence, signal
from plytide.wire import history
from plytide.work import sentences

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "server" / "plytide" / "engine" / "signals"
FILES = sorted(path.stem for path in FOLDER.glob("*.py") if path.stem != "__init__")

SIGNAL = '''"""Somebody noted that they are tired: invented for a test."""

from datetime import date

from plytide.engine.facts import Facts, evidence
from plytide.engine.sentences import sentence, signal
from plytide.engine.signal_kind import Kind
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.model import Signal

KINDS = (
    Kind("tired", label="tiredness", ask="How do you sleep?", look="Colour of the face.", payer=("function", 9)),
)
WORDS = {"tired.noted": "Tiredness was noted on {on:day}."}


def rule(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    noted = [one for one in facts.window(day, 14) if one.note and "tired" in one.note]
    if not noted:
        return []
    said = [sentence("tired.noted", on=noted[-1].date)]
    return [signal(WORDS, "tired", "urgent", noted[0].date, said, evidence(noted))]
'''
TABLE = """from plytide.engine.language import Language

LANGUAGE = Language(
    months=tuple(f"jar {n}" for n in range(1, 13)),
    days=lambda count: f"{count} jaj",
    date="{day}. {month}",
    sentences={"tired.noted": "Doy'! {on:day}."},
)
"""
WORD_FILE = "export default {\n  'language.direction': 'ltr',\n  'remind.body': 'qonos',\n};\n"


def test_every_file_of_the_folder_says_all_of_its_signal() -> None:
    assert len(FILES) >= 11
    codes: list[str] = []
    kinds: list[str] = []
    for name in FILES:
        module = getattr(signals, name)
        assert callable(module.rule), name
        kinds += [one.kind for one in module.KINDS]
        codes += getattr(module, "WORDS", {})
        for one in module.KINDS:
            assert one.label and one.ask and one.look, one.kind
            assert one.payer is None or one.payer[0] in ("limb", "function", "wear"), one.kind
    assert len(set(codes)) == len(codes) and len(set(kinds)) == len(kinds)
    assert set(kinds) == set(signals.KINDS)
    places = [one.payer for one in signals.KINDS.values() if one.payer]
    assert len(set(places)) == len(places)


def test_no_other_file_lists_the_kinds() -> None:
    """A second list is what broke: a kind that was added to one and not to the other."""
    unmistakable = [kind for kind in signals.KINDS if "-" in kind]
    assert len(unmistakable) >= 5
    wrong = []
    for path in (*(ROOT / "server" / "plytide").rglob("*.py"), *(ROOT / "web").rglob("*.js")):
        if path.parent != FOLDER:
            text = path.read_text(encoding="utf-8")
            named = [kind for kind in unmistakable if f"'{kind}'" in text or f'"{kind}"' in text]
            if len(named) > 2:
                wrong.append(f"{path.name}: {named}")
    assert wrong == []


def test_a_kind_whose_file_is_gone_is_still_told_of() -> None:
    assert signals.kind_of("knee-lock").label == "knee lock"
    assert signals.kind_of("knee-lock").ask and signals.kind_of("knee-lock").look


COMMA = Language(
    months=tuple("Jänner Februar März April Mai Juni Juli August September Oktober November Dezember".split()),
    days=lambda count: "einem Tag" if count == 1 else f"{count} Tagen",
    date="{day}. {month}",
    decimal=",",
    words={"FINDING": {"rash": "Ausschlag"}},
    sentences={"x": "Seit {since:days}, {kg:.1f} kg am {on:day} ({found:FINDING})"},
)


def test_dates_days_numbers_and_codes_are_said_the_languages_way() -> None:
    said = sentence("x", since=1, kg=70.25, on=date(2026, 3, 4), found=("rash", "new_code"))
    assert COMMA.say([said]) == "Seit einem Tag, 70,2 kg am 4. März (Ausschlag, new code)"
    assert COMMA.say([said, sentence("y")]) is None


GOING_ON = Language(
    months=COMMA.months,
    days=COMMA.days,
    date="{day}. {month}",
    span="{first} bis {last}",
    span_in_month="{first_day}. bis {last}",
    sentences={"a": "ausschlag,", "b": "gemeldet am {on:day}.", "c": "geplant {when:span}."},
)


def test_parts_of_a_sentence_go_on_in_the_next_and_a_span_names_its_month_once() -> None:
    assert GOING_ON.say([sentence("a"), sentence("b", on=date(2026, 3, 4))]) == "Ausschlag, gemeldet am 4. März."
    for first, last, words in (
        ("2026-03-04", "2026-03-09", "Geplant 4. bis 9. März."),
        ("2026-03-28", "2026-04-02", "Geplant 28. März bis 2. April."),
        ("2026-03-04", "2026-03-04", "Geplant 4. März."),
    ):
        assert GOING_ON.say([sentence("c", when=(first, last))]) == words


def test_what_goes_over_the_wire_can_be_said_again() -> None:
    told = [sentence("x", on=date(2026, 3, 4), count=1)]
    made = signal({"x": "{on:day}, {count:days}"}, "fall", "note", date(2026, 3, 4), told)
    assert made.because == "4 March, 1 day"
    (sent,) = history.signal(made)["sentences"]
    assert sent == {"code": "x", "values": {"on": "2026-03-04", "count": 1}}
    again = sentence(sent["code"], since=2, kg=1.0, found=(), **{"on": sent["values"]["on"]})
    assert COMMA.say([again]) == "Seit 2 Tagen, 1,0 kg am 4. März ()"
    kept = history.signal(made)
    assert because_in(kept, "no-such-language") == because_in(kept, "en") == made.because


def test_a_file_that_lacks_words_for_what_it_says_is_found_at_once() -> None:
    with pytest.raises(LookupError, match="fall says fall.three"):
        signal({}, "fall", "note", date(2026, 3, 4), [sentence("fall.three")])


SPECS = ("", "day", "full", "days", "ply", "socks", "span", "FINDING", "PLACE", "SIGN", "TAG", "DAY_TAG", "SHAPE")
NUMBERS = (".0%", ".1f", "+.1f", "g")


def test_every_sentence_fills_in_something_a_table_can_say() -> None:
    """Of signals, reasons, clocks, rows: the list a language works through."""
    told = sentences.english()
    assert len(told) > 100 and {"silent.never", "coming.steady-old-log", "row.more", "recall.monthly"} <= set(told)
    for code, words in told.items():
        for _, hole, spec, _ in Formatter().parse(words):
            assert hole is None or (hole.isidentifier() and spec in (*SPECS, *NUMBERS)), code


def test_a_minus_is_one_and_what_somebody_wrote_keeps_its_first_letter() -> None:
    said = [sentence("a", mm=-0.25), sentence("b", what="iFoot"), sentence("c", tag=("new_medicine",))]
    words = {"a": "by {mm:+.1f} mm.", "b": "{what}: ends.", "c": "{tag:DAY_TAG} noted."}
    assert in_english(words, said, "x") == "By −0.2 mm. iFoot: ends. New medicine noted."


def test_one_file_more_is_a_signal_and_one_table_more_a_language(tmp_path: Path) -> None:
    """In a copy of the tree, with a real app and a real listener for mail: see the walk beside this file."""
    for part in ("server/plytide", "web", "seed_demo"):
        shutil.copytree(ROOT / part, tmp_path / part, ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "tests").mkdir()
    for name in ("__init__", "conftest", "actors", "chromium", "post"):
        shutil.copy(ROOT / "tests" / f"{name}.py", tmp_path / "tests")
    shutil.copy(ROOT / "tests" / "engine" / "walk_a_scratch_signal.py", tmp_path / "tests" / "test_walk.py")
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    engine = tmp_path / "server" / "plytide" / "engine"
    (engine / "signals" / "tired.py").write_text(SIGNAL)
    (engine / "languages" / "tlh.py").write_text(TABLE)
    (tmp_path / "web" / "phone" / "words" / "tlh.js").write_text(WORD_FILE)
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-n", "0", "-q", "tests/test_walk.py"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": f"{tmp_path / 'server'}{os.pathsep}{tmp_path}"},
        capture_output=True,
        text=True,
        timeout=240,
    )
    assert done.returncode == 0 and "3 passed" in done.stdout, done.stdout[-4000:] + done.stderr[-2000:]
