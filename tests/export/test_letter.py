"""What a letter says of a limb: each claim with its dates, nothing claimed that is not there, nothing lost on paper."""

from __future__ import annotations

import re
import zlib
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from plytide.engine.facts import Facts
from plytide.engine.thresholds import DEFAULTS
from plytide.export.letter import BASIS, DATE, NOT_MEASURED, Around, filled, undated, values
from plytide.export.letter_pdf import letter_pdf, reads_from_the_right
from plytide.model import (
    Assessment,
    CheckIn,
    Estimate,
    Limb,
    LimbHistory,
    Measurement,
    Signal,
    SkinFinding,
    Sock,
    Socket,
    TapeLevel,
)
from plytide.wire.letter import FIELDS
from plytide.work.letter_templates import TEMPLATES
from tests.export.test_sheets import told_by

DAY = date(2026, 8, 1)
LIMB = Limb("a", amputated_on=date(2026, 4, 8))
SOCKET = Socket("s", date(2026, 6, 8), stack_at_fitting=(Sock(1, "single"),), weight_limit_kg=100)
NOTHING: Any = dict.fromkeys(("change_28d_pct", "coming_28d_pct", "daily_swing_pct", "since", "settles_on"))
EMPTY = Assessment("a", DAY, 0, None, state="gathering", reasons=(), outlook=(), signals=(), **NOTHING)
AROUND = Around("Wren Tolliver", "Harbour Limbs", "Ida", thresholds=DEFAULTS)
MADE_AT = datetime(2026, 8, 1, 12, tzinfo=UTC)
#: Said of the person or the letter, not measured on a day.
NAMES = {"greeting", "person", "clinic", "by"}


def tape(on: date, *mm: float) -> Measurement:
    return Measurement(on, tuple(TapeLevel(50.0 * n, each) for n, each in enumerate(mm)), id=f"m-{on}")


def full_facts() -> Facts:
    worn = [
        CheckIn(
            f"c{n}", "a", DAY - timedelta(days=n), (Sock(5, "single"),), 6 + n % 2, hours_worn=9.5, falls=n % 2,
            skin=(SkinFinding("shin_end", "redness"),) if n == 3 else (), weight_kg=80 - n, signs_checked=True,
        )
        for n in range(10, -1, -1)
    ]  # fmt: skip
    tapes = (tape(date(2026, 6, 8), 240, 262), tape(date(2026, 7, 20), 238, 262.5))
    return Facts.of(LimbHistory(LIMB, (SOCKET,), measurements=tapes, checkins=tuple(worn), visits=(date(2026, 8, 9),)))


def full_assessment() -> Assessment:
    change = Estimate(-6.24, -7.4, -5.1)
    signal = Signal("stack-limit", "call", date(2026, 7, 30), "Ten ply worn. It was 7 ply before! Ask why.")
    return replace(
        EMPTY, checkins_used=11, change_pct=change, change_28d_pct=change, dialysis_swing_pct=change, signals=(signal,)
    )


def full_values() -> dict[str, Any]:
    decision = {
        "on": "2026-07-21", "by": "Ida", "choice": "wait", "planned_on": None, "reasons": ["Still losing 2 % a week."],
        "note": None, "taken_back_at": None,
    }  # fmt: skip
    around = replace(
        AROUND,
        physician="Dr Ilse Wren",
        decisions=[decision],
        calls=[(date(2026, 7, 30), "Reached. Wears 10 ply")],
        others=[(full_facts(), full_assessment())],
    )
    return values(full_facts(), full_assessment(), around)


def test_every_field_on_offer_can_be_said_and_none_else() -> None:
    assert set(full_values()) == set(FIELDS)
    asked = {name for text in TEMPLATES.values() for name in re.findall(r"\{(\w+)\}", text)}
    assert asked <= set(FIELDS)


@pytest.mark.parametrize("name", sorted(set(FIELDS) - NAMES))
def test_each_value_carries_its_date_whether_or_not_it_is_there(name: str) -> None:
    assert DATE.search(full_values()[name].text), full_values()[name]
    empty = values(Facts.of(LimbHistory(replace(LIMB, amputated_on=None))), EMPTY, AROUND)
    assert DATE.search(empty[name].text), empty[name]


@pytest.mark.parametrize("kind", TEMPLATES)
def test_no_sentence_of_our_templates_gives_a_figure_without_its_date(kind: str) -> None:
    for said in (full_values(), values(Facts.of(LimbHistory(LIMB)), EMPTY, AROUND)):
        text, _ = filled(TEMPLATES[kind], said)
        assert "{" not in text
        assert undated(text) == []


@pytest.mark.parametrize("kind", TEMPLATES)
def test_where_nothing_is_known_a_letter_claims_nothing(kind: str) -> None:
    text, lacks = filled(TEMPLATES[kind], values(Facts.of(LimbHistory(LIMB)), EMPTY, AROUND))
    measured = {"tape", "ply", "comfort", "hours", "falls", "skin", "weight", "volume"} & set(
        re.findall(r"\{(\w+)\}", TEMPLATES[kind])
    )
    assert measured <= set(lacks)
    assert text.count(NOT_MEASURED) >= len(lacks)
    assert not re.search(r": *\.?$", text.replace("To do:", ""), re.MULTILINE)


def test_the_values_are_the_ones_written_down() -> None:
    said = {name: one.text for name, one in full_values().items()}
    assert said["tape"] == "20 July 2026, from the end of the limb: 238 mm at 0 mm, 262.5 mm at 50 mm"
    assert said["tape_change"] == (
        "8 June 2026 to 20 July 2026, from the end of the limb: −2 mm at 0 mm, +0.5 mm at 50 mm"
    )
    assert said["ply"].endswith("on 1 August 2026") and said["ply"].startswith("5-ply")
    assert said["comfort"] == "6.5 (mean of 11, from 6 to 7; 19 July 2026 to 1 August 2026)"
    assert said["hours"].startswith("9.5 (mean of 11")
    assert said["falls"] == "5 written down (3 July 2026 to 1 August 2026)"
    assert said["skin"] == "redness, distal end of the tibia, 29 July 2026"
    assert said["weight"] == "80 kg on 1 August 2026, written down with the log"
    assert said["weight_before"] == "73 kg on 25 July 2026, written down with the log"
    assert said["volume"] == "−6.2 % [−7.4 to −5.1], 8 June 2026 to 1 August 2026"
    assert said["signals"] == "since 30 July 2026: Ten ply worn; It was 7 ply before; Ask why"
    assert said["next_visit"] == "9 August 2026"


def test_skin_nobody_looked_at_is_not_clear_skin() -> None:
    def skin(looked: bool) -> str:
        worn = CheckIn("c", "a", DAY, (), 7, skin_checked=looked)
        return values(Facts.of(LimbHistory(LIMB, (SOCKET,), checkins=(worn,))), EMPTY, AROUND)["skin"].text

    assert skin(looked=False).startswith(NOT_MEASURED)
    assert skin(looked=True).startswith("nothing found on the 1 day")


def test_a_stack_at_the_fitting_that_was_not_entered_is_not_no_sock() -> None:
    for bare in (replace(SOCKET, stack_at_fitting=None), replace(SOCKET, stack_at_fitting=(), baseline_unsure=True)):
        assert not values(Facts.of(LimbHistory(LIMB, (bare,))), EMPTY, AROUND)["ply_at_fitting"].known
    worn = values(Facts.of(LimbHistory(LIMB, (replace(SOCKET, stack_at_fitting=()),))), EMPTY, AROUND)
    assert worn["ply_at_fitting"].text == "no sock (0.0 mm) on 8 June 2026"


def test_tapes_at_other_levels_are_not_compared() -> None:
    other = Measurement(date(2026, 7, 20), (TapeLevel(30.0, 250.0),), id="m2")
    history = LimbHistory(LIMB, (SOCKET,), measurements=(tape(date(2026, 6, 8), 240), other))
    assert not values(Facts.of(history), EMPTY, AROUND)["tape_change"].known


def test_a_figure_typed_without_its_date_is_noticed_and_an_order_of_words_is_not() -> None:
    assert undated("Comfort fell to 4. On 3 May 2026 it was 7.\nThe skin is well.") == ["Comfort fell to 4."]
    assert undated("Comfort was 4.2 on 2026-05-03.") == []


def content(text: str, **said: str) -> dict[str, str]:
    return {
        "clinic": "Harbour Limbs", "reach": "01 555 0100", "by": "Ida", "on": "1 August 2026", "to": "Dr Ilse Wren",
        "about": "Wren Tolliver, born 2 May 1960", "subject": "Wren Tolliver", "text": text, "replaces": "",
        "basis": BASIS, **said,
    }  # fmt: skip


def read(pdf: bytes) -> list[str]:
    """The text of each sheet, out of the PDF's own streams; only where its own font is used."""
    sheets = []
    for packed in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL):
        try:
            drawn = zlib.decompressobj().decompress(packed)  # its last byte may be a line's end, and not be here
        except zlib.error:
            continue
        if b" Tj" in drawn:
            lines = re.findall(rb"\(((?:[^()\\]|\\.)*)\) Tj", drawn, re.DOTALL)
            sheets.append(" ".join(re.sub(rb"\\(.)", rb"\1", line).decode("latin-1") for line in lines))
    return sheets


@pytest.mark.parametrize("kind", TEMPLATES)
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_our_letters_fit_on_one_sheet_and_then_have_no_number(kind: str, paper: Any) -> None:
    text, _ = filled(TEMPLATES[kind], full_values())
    sheets = read(letter_pdf(content(text), MADE_AT, paper))
    assert len(sheets) == 1
    assert "page 1" not in sheets[0]
    assert "Not a diagnosis" in sheets[0] and "not an order" in " ".join(sheets[0].split())


def test_a_long_letter_goes_on_with_numbers_and_loses_nothing() -> None:
    lines = [f"Line {n} of what was seen on 1 August 2026." for n in range(150)]
    sheets = read(letter_pdf(content("\n".join(lines)), MADE_AT))
    assert len(sheets) > 1
    for n, sheet in enumerate(sheets, 1):
        assert f"page {n} of {len(sheets)}" in sheet
        assert "Not a diagnosis" in sheet
    whole = " ".join(sheets)
    assert [line for line in lines if line not in whole] == []


def test_a_word_longer_than_the_sheet_is_wide_is_broken_and_not_lost() -> None:
    (sheet,) = read(letter_pdf(content("w" * 400), MADE_AT))
    assert sheet.count("w") >= 400


@pytest.mark.parametrize(
    "name", ["Ελένη Παπαδοπούλου", "Ирина Ковалёва", "فاطمة الزهراء"], ids=["greek", "cyrillic", "arabic"]
)
def test_names_are_printed_in_their_own_letters(name: str) -> None:
    pdf = letter_pdf(content(f"As of 1 August 2026, {name} wears 5-ply.", about=name, subject=name), MADE_AT)
    assert {letter for letter in name if letter != " "} - set(told_by(pdf)) == set() or "فاطمة" in name
    assert "?" not in told_by(pdf)


@pytest.mark.parametrize(
    ("text", "right"), [("فاطمة الزهراء, 1960", True), ("1960 فاطمة", True), ("Wren فاطمة", False), ("12", False)]
)
def test_a_line_is_set_from_the_side_it_reads_from(text: str, right: bool) -> None:
    assert reads_from_the_right(text) is right


def test_printed_again_it_is_the_same_paper() -> None:
    once = letter_pdf(content("As of 1 August 2026."), MADE_AT)
    assert once == letter_pdf(content("As of 1 August 2026."), MADE_AT)
