"""The lines of the visit page and the payer's page, and what letters they can be printed in."""

from __future__ import annotations

import re
import zlib
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from plytide.engine.facts import Facts
from plytide.export.pdf import Page, near_latin, visit_pdf, written
from plytide.export.visit_page import Line, decided_words, interval, payer_page, visit_page
from plytide.model import Assessment, CheckIn, Estimate, Limb, LimbHistory, Reason, Signal, SkinFinding, Sock, Socket

DAY = date(2026, 8, 1)
LIMB = Limb("a", amputated_on=date(2026, 4, 8))
SOCKET = Socket("s", date(2026, 6, 8), stack_at_fitting=(Sock(1, "single"),))
NOTHING: Any = dict.fromkeys(("change_28d_pct", "coming_28d_pct", "daily_swing_pct", "since", "settles_on"))


def text_of(pdf: bytes) -> str:
    """The words of a sheet in the PDF's own fonts, line after line."""
    streams = re.findall(rb"stream\n(.*?)\nendstream", pdf, re.DOTALL)
    return " ".join(
        line.decode("latin-1")
        for stream in streams
        for line in re.findall(rb"\((.*?)\) Tj", zlib.decompress(stream) if stream[:1] == b"x" else stream)
    )


def assessed(*kinds: str, change: float = -0.04) -> Assessment:
    signals = tuple(Signal(kind, "call", DAY, f"Because of {kind}.", ("c0",)) for kind in kinds)
    changed = Estimate(change, -1.0, 0.9)
    return Assessment("a", DAY, 1, changed, state="due", reasons=(), outlook=(), signals=signals, **NOTHING)


def facts(limb: Limb = LIMB) -> Facts:
    worn = CheckIn("c0", "a", DAY - timedelta(days=1), (Sock(5, "single"),), 8)
    return Facts.of(LimbHistory(limb, (SOCKET,), checkins=(worn,)))


def test_dates_on_paper_are_words_with_their_year() -> None:
    page = visit_page(facts(), "Wren Tolliver", assessed())
    assert page.limb.endswith("amputated 8 April 2026")
    assert "fitted 8 June 2026" in page.socket


@pytest.mark.parametrize(
    ("worn", "words"),
    [(0, "0 days"), (1, "1 day"), (30, "30 days"), (59, "59 days"), (61, "2 months"), (365, "12 months")],
)
def test_how_long_a_socket_was_worn_has_its_singular(worn: int, words: str) -> None:
    history = replace(facts().history, sockets=(replace(SOCKET, fitted_on=DAY - timedelta(days=worn)),))
    assert f"({words})" in visit_page(Facts.of(history), "Wren Tolliver", assessed()).socket


def test_a_child_of_one_is_a_year_old() -> None:
    page = visit_page(facts(replace(LIMB, born_on=date(2025, 6, 1))), "Wren Tolliver", assessed())
    assert page.who.endswith(", 1 year")


@pytest.mark.parametrize(
    ("value", "words"),
    [(-0.04, "0.0 % [−1.0 to +0.9]"), (0.04, "0.0 % [−1.0 to +0.9]"), (-6.24, "−6.2 % [−1.0 to +0.9]")],
)
def test_no_sign_stands_before_a_nought(value: float, words: str) -> None:
    assert interval(Estimate(value, -1.0, 0.9), "%") == words


def test_what_the_limb_shows_stands_under_the_limb_and_what_it_hinders_under_function() -> None:
    """Heads: CMS LCD L33787 wording, confirmed (secondary); what goes under which: judgement."""
    every = assessed("stack-limit", "outgrown", "skin", "comfort-drop", "fall", "weight")
    limb, function, wear, _ = payer_page(facts(), "Wren Tolliver", every)
    lines = [[line.text for line in head.lines] for head in (limb, function, wear)]
    assert [f"Because of {kind}." for kind in ("stack-limit", "outgrown", "skin")] == lines[0][-3:]
    assert lines[1][:2] == ["Because of comfort-drop.", "Because of fall."]
    assert lines[2][0] == "Because of weight."
    assert limb.lines[-1].evidence == ("c0",)


def test_a_child_from_birth_has_no_amputation_date_on_the_page() -> None:
    page = visit_page(facts(replace(LIMB, amputated_on=None)), "Ezra", assessed())
    assert "amputated" not in page.limb


@pytest.mark.parametrize(("born_on", "who"), [(date(2018, 8, 2), "Ezra, 7 years"), (date(2018, 8, 1), "Ezra, 8 years")])
def test_a_birthday_counts_on_its_day_and_not_before(born_on: date, who: str) -> None:
    assert visit_page(facts(replace(LIMB, born_on=born_on)), "Ezra", assessed()).who == who


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("Łucja Brúščaková", "Lucja Brúscaková"),
        ("Zoë Müller", "Zoë Müller"),
        ("−3 ± 1 …", "-3 +/- 1 ..."),
        ("Ж", "?"),
    ],
)
def test_letters_the_font_lacks_are_printed_near_to_themselves(name: str, printed: str) -> None:
    assert written(name) == printed


def told_by(pdf: bytes) -> str:
    """The letters a PDF says it holds: its fonts' ToUnicode tables, read as they are."""
    pairs = re.findall(
        rb"<[0-9A-Fa-f]{4}> <([0-9A-Fa-f]{4})>", b" ".join(re.findall(rb"beginbfchar.*?endbfchar", pdf, re.DOTALL))
    )
    return "".join(bytes.fromhex(code.decode()).decode("utf-16-be") for code in pairs)


@pytest.mark.parametrize(
    "name", ["Ελένη Παπαδοπούλου", "Ирина Ковалёва", "فاطمة الزهراء"], ids=["greek", "cyrillic", "arabic"]
)
def test_other_scripts_are_printed_in_a_font_that_has_them(name: str) -> None:
    pdf = visit_pdf(visit_page(facts(), name, assessed()), [], DAY, "Clinic")
    assert b"NotoSans" in pdf and len(re.findall(rb"/Type /Page\b(?!s)", pdf)) == 1
    assert set(name) - {" "} <= set(told_by(pdf))
    assert len(pdf) < 150_000  # the letters used, not whole fonts


def test_arabic_letters_are_joined_and_run_from_right_to_left() -> None:
    """Shaped: the same letter at the beginning, in the middle and at the end of a word has three shapes."""
    page = Page("a4", "ببب", "x")
    assert page.face == "sans"
    page.finished()
    font = page.fonts["arabicB"]
    drawn = {glyph.glyph_name for glyph, _ in font.subset.items()}
    assert {name.rpartition(".")[2] for name in drawn} >= {"init", "medi", "fina"}


def test_a_page_in_latin_letters_carries_no_font_and_a_lacking_letter_is_marked() -> None:
    assert b"NotoSans" not in visit_pdf(visit_page(facts(), "Zoë Čapek", assessed()), [], DAY, "Clinic")
    assert near_latin("What? Łódź “±5”") and not near_latin("Ирина?")
    page = Page("a4", "Ирина 漢", "x")
    assert written("Ирина 漢 Łódź “q”", letters=page.letters) == "Ирина ? Łódź “q”"
    page.put_away()


@pytest.mark.parametrize(
    ("state", "why", "words"),
    [
        ("steady", "Steady: the coming 28 days.", "Steady: the coming 28 days."),
        ("held", "Open skin.", "Held: Open skin."),
    ],
    ids=["own-word", "other-word"],
)
def test_how_it_stands_says_its_state_once(state: str, why: str, words: str) -> None:
    told = replace(assessed(), state=state, reasons=(Reason("code", why),))
    assert visit_page(facts(), "Ada", told).state == words


# What a visit is told of beside the volume: socks, comfort, skin.


def log_of(*, skin: tuple[SkinFinding, ...] = (), checked: bool = False, thick_from: int = 7) -> Facts:
    """Five weeks: a 1-ply, from some days ago on a 5-ply; comfort 8, in the last fortnight 6."""
    entries = tuple(
        CheckIn(
            f"c{back}", "a", DAY - timedelta(days=back), (Sock(5 if back < thick_from else 1, "single"),),
            6 if back < 14 else 8, skin=skin if back in (3, 5) else (), skin_checked=checked,
        )
        for back in range(35, -1, -1)
    )  # fmt: skip
    return Facts.of(LimbHistory(LIMB, (SOCKET,), checkins=entries))


def lately(of: Facts) -> dict[str, str]:
    return dict(visit_page(of, "Ada", assessed()).recent)


def test_the_page_before_a_visit_tells_of_socks_comfort_and_skin() -> None:
    found = lately(log_of(skin=(SkinFinding("shin", "redness", 30),)))
    assert found["Socks, usual of the week"] == "5-ply, was 1-ply four weeks ago"
    assert found["Comfort, mean (10 is best)"] == "6.0; in the two weeks before 8.0"
    assert found["Skin, 6 weeks"].startswith("redness, ") and "(2 days, last 29 July)" in found["Skin, 6 weeks"]


def test_what_was_not_said_is_no_clear_skin_and_the_same_socks_were_no_change() -> None:
    assert lately(log_of())["Skin, 6 weeks"] == "nothing said"
    assert lately(log_of(checked=True))["Skin, 6 weeks"] == "looked at, nothing found"
    assert lately(log_of(thick_from=0))["Socks, usual of the week"] == "1-ply"
    nothing = lately(Facts.of(LimbHistory(LIMB, (SOCKET,))))
    assert (nothing["Socks, usual of the week"], nothing["Comfort, mean (10 is best)"]) == ("not said", "not said")


def test_the_sheet_draws_the_socks_and_stays_one_sheet() -> None:
    every = assessed("stack-limit", "outgrown", "skin", "comfort-drop", "fall", "weight")
    full_page = visit_page(log_of(skin=(SkinFinding("shin", "redness", 30),)), "Ada", every)
    band = [(DAY - timedelta(days=back), Estimate(-1.0, -2.0, 0.0)) for back in range(60, -1, -1)]
    for page in (full_page, replace(full_page, strip=None)):
        assert len(re.findall(rb"/Type /Page\b", visit_pdf(page, band, DAY, "Clinic"))) == 1
    assert len(visit_pdf(full_page, [], DAY, "C")) > len(visit_pdf(replace(full_page, strip=None), [], DAY, "C"))


def test_what_a_sheet_has_no_room_for_stands_on_the_next_and_nothing_is_cut() -> None:
    every = assessed("stack-limit", "outgrown", "skin", "comfort-drop", "fall", "weight")
    long = "The end of the limb was red. " * 40 + "Last word: heel."
    page = visit_page(log_of(), "Ada", every)
    page = replace(page, changed=tuple(Line(f"{n}. {long}", ()) for n in range(9)), decided=(long,))
    pdf = visit_pdf(page, [], DAY, "Clinic")
    said = text_of(pdf)
    assert len(re.findall(rb"/Type /Page\b", pdf)) == 3
    assert said.count("Last word: heel.") == 10 and "..." not in said
    assert [f"Ada, page {n} of 3" in said for n in (1, 2, 3)] == [True] * 3


def test_every_signal_of_a_limb_is_on_the_page_before_a_visit() -> None:
    kinds = ("stack-limit", "outgrown", "skin", "comfort-drop", "fall", "weight", "silent", "remake", "wear-drop")
    changed = [line.text for line in visit_page(log_of(), "Ada", assessed(*kinds)).changed]
    assert len([text for text in changed if text.startswith("Because of")]) == len(kinds)


def test_a_decision_is_told_with_its_whole_reason() -> None:
    why = "The limb has lost volume for six weeks and the stack is at its limit. " * 5
    decision = {"on": "2025-07-20", "by": "ida", "choice": "now", "planned_on": None, "reasons": [], "note": why.strip(),
                "taken_back_at": None}  # fmt: skip
    (line,) = decided_words([decision])
    assert line.endswith(why.strip())
