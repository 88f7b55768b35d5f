"""One word a code for staff, on the pages and in what the server says; and no code leaks as a word anywhere."""

from __future__ import annotations

import json
import re
import subprocess
from datetime import date, timedelta
from pathlib import Path

from plytide.engine import staff_words
from plytide.engine.assess import assess, known_then
from plytide.engine.facts import Facts
from plytide.engine.planner import plan_of
from plytide.engine.sentences import in_english
from plytide.engine.thresholds import DEFAULTS
from plytide.export.visit_page import payer_page, visit_page
from plytide.model import FINDINGS, LEVELS, LIMB_TAGS, READING_TAGS, SIGNS, STATES, SUSPENSIONS, TAGS
from plytide.wire.history import assessment_to_json, read_line
from plytide.work import reassess, sentences
from seed_demo.stories import cast
from tests.node import node

ROOT = Path(__file__).resolve().parents[2]
CODE = re.compile(r"\w_\w")

ASK = """
import * as clinic from "./web/clinic/words.js";
import { PLACE_WORDS, PLACES } from "./web/shared/places.js";
console.log(JSON.stringify({
  PLACE: PLACE_WORDS, PLACES, FINDING: clinic.FINDING, TAG: clinic.READING, DAY_TAG: clinic.DAY_TAG, SIGN: clinic.SIGN,
  STATE: clinic.STATE, LEVEL: clinic.LEVEL, INTERVENTION: clinic.INTERVENTION }));
"""


def test_pages_and_server_use_the_same_words() -> None:
    done = subprocess.run(
        [node(), "--input-type=module", "-e", ASK], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True
    )
    pages = json.loads(done.stdout)
    for name in ("PLACE", "FINDING", "SIGN", "TAG", "DAY_TAG", "STATE", "LEVEL", "INTERVENTION"):
        assert pages[name] == getattr(staff_words, name), name
    assert {place for places in pages["PLACES"].values() for place in places} | {"not_said"} == set(staff_words.PLACE)


def test_every_code_of_the_model_has_words() -> None:
    for table, codes in (
        (staff_words.FINDING, FINDINGS), (staff_words.SIGN, SIGNS), (staff_words.DAY_TAG, TAGS),
        (staff_words.TAG, (*LIMB_TAGS, *READING_TAGS, "child")),
        (staff_words.STATE, STATES), (staff_words.LEVEL, LEVELS), (staff_words.SUSPENSION, SUSPENSIONS),
    ):  # fmt: skip
        assert set(codes) <= set(table)
        assert not [text for text in table.values() if CODE.search(text)]


def test_a_code_nobody_knows_loses_its_underscores() -> None:
    assert staff_words.word_of(staff_words.PLACE, "left_of_the_scar") == "left of the scar"


def test_no_code_leaks_as_a_word_anywhere_in_the_demo() -> None:
    """Each limb of the demo, on its last day and on two days before: reasons, signals, list, plan, visit, payer.

    And what is said of it in codes and values is what is said in English, so that it can be said in another language.
    """
    today = date(2026, 9, 15)
    leaked: set[str] = set()
    english, said_of = sentences.english(), set[str]()
    for story in cast(30, 120, 1, today):
        for raw in story.histories():
            history = read_line(json.dumps(raw))[0]
            dates = [today - timedelta(days=back) for back in (0, 40, 105)]
            for found in assess(history, dates):
                facts = Facts.of(known_then(history, [found.as_of])[0][0])
                said = assessment_to_json(found)
                for one in found.reasons:
                    assert in_english(english, one.sentences, one.code) == one.text
                    said_of.add(one.code)
                plan = plan_of(facts.history, found, DEFAULTS)
                page = visit_page(facts, story.person["name"], found)
                texts = [
                    *(one.text for one in found.reasons), *(one.text for one in found.lacks),
                    *(one.because for one in found.signals), reassess.why_of(said, [])[2],
                    *(one.text for one in plan.missing), *(one.words for one in plan.options),
                    *(one.because for one in plan.options),
                    *(text for one in (*plan.direct, *plan.cast, *plan.child) for text in (one.text, one.because)),
                    page.limb, page.socket, page.state, page.reading, *page.ask, *page.look,
                    *(line.text for line in page.changed), *(value for _, value in page.recent),
                    *(line.text for head in payer_page(facts, "x", found) for line in head.lines),
                ]  # fmt: skip
                notes = {entry.note for entry in history.checkins if entry.note}
                leaked |= {text for text in texts if CODE.search(text) and text not in notes}
    assert leaked == set()
    assert len(said_of) > 12
