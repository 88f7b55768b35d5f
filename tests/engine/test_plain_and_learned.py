"""Staff read anatomy, wearers plain words; every code has a word on both sides, and the server's are the pages' own."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest

from plytide import model
from plytide.engine import staff_words
from plytide.export.visit_page import socket_words
from plytide.model import Socket
from seed_demo.habits import Skin
from seed_demo.people import CAST
from tests.conftest import TODAY
from tests.node import node

ROOT = Path(__file__).resolve().parents[2]


def from_the_web(module: str, *names: str) -> dict[str, Any]:
    script = (
        f"import * as m from './{module}'; console.log(JSON.stringify({{{', '.join(f'{n}: m.{n}' for n in names)}}}))"
    )
    done = subprocess.run(
        [node(), "--input-type=module", "-e", script], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True
    )
    return dict(json.loads(done.stdout))


def test_wearers_read_plain_words_where_staff_read_anatomy() -> None:
    plain = (ROOT / "web" / "phone" / "words" / "en.js").read_text()
    for place in staff_words.PLACE:
        said = re.search(rf"'place\.{place}': '([^']+)'", plain)
        assert said, place
        for learned in ("fibul", "tibia", "patell", "popliteal", "ischial", "distal", "medial", "lateral", "anterior"):
            assert learned not in said[1].lower()
    assert staff_words.PLACE["outer_bump"] == "fibular head"


def test_the_pages_say_the_same_as_the_server() -> None:
    pages = from_the_web("web/clinic/words.js", "SIGN", "SUSPENSION", "MATERIAL", "MADE")
    assert pages["SIGN"] == {code: staff_words.SIGN[code] for code in pages["SIGN"]}
    assert set(model.SIGNS) <= set(pages["SIGN"])
    assert pages["SUSPENSION"] == staff_words.SUSPENSION
    assert pages["MATERIAL"] == staff_words.MATERIAL
    assert pages["MADE"] == staff_words.MADE


@pytest.mark.parametrize(
    ("codes", "said"),
    [
        (model.SIGNS, staff_words.SIGN),
        (model.SUSPENSIONS, staff_words.SUSPENSION),
        (model.MATERIALS, staff_words.MATERIAL),
        (model.MADE, staff_words.MADE),
    ],
)
def test_every_code_has_a_word_and_no_word_is_a_code(codes: tuple[str, ...], said: dict[str, str]) -> None:
    assert set(codes) <= set(said)
    assert not [word for word in said.values() if "_" in word or not word]


def test_the_visit_page_says_how_a_socket_was_made_in_words() -> None:
    made = Socket("s", TODAY, purpose="definitive", made="direct", suspension="sealing_liner", material="composite")
    assert socket_words(made, TODAY).startswith(
        "Definitive, formed on the limb, sealing liner, other composite; fitted"
    )
    bare = Socket("s", TODAY, purpose="diagnostic", material="other")
    assert socket_words(bare, TODAY).startswith("Diagnostic; fitted")


def test_the_demo_says_what_phones_and_forms_say() -> None:
    """Places as codes, as a phone sends them; what was done in the form's words."""
    limbs = [limb for part in CAST for limb in part.limbs]
    places = {event.place for limb in limbs for event in limb.events if isinstance(event, Skin)}
    assert places and places <= set(staff_words.PLACE)
    done = {one.kind for limb in limbs for one in limb.done}
    assert done and not [what for what in done if "_" in what]
    padded = {pad.place for limb in limbs for pad in limb.pads}
    assert padded and padded <= set(staff_words.PLACE.values())
