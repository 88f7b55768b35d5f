"""A kept letter as PDF: on one sheet where it fits, else on as many as it needs, each with its number."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from fpdf.enums import Align, XPos, YPos

from plytide.export.pdf import Page, Paper, written

SIZES = (10.5, 10, 9.5)  # points, tried from the largest until one sheet holds it; nothing smaller is read with ease
FOOT = 18  # mm kept free for the closing line
RIGHT_TO_LEFT = ("R", "AL")


def letter_pdf(content: Mapping[str, Any], made_at: datetime, paper: Paper = "a4") -> bytes:
    """From the kept words and nothing else, so that a letter printed again is the letter that was sent."""
    for size in SIZES:
        out = _laid_out(content, made_at, paper, size)
        if out.page == 1:
            return _closed(out, content)
        out.put_away()
    return _closed(_laid_out(content, made_at, paper, SIZES[0]), content)


class Letter(Page):
    """A page that goes on where a sheet ends."""

    def write(self, text: str, size: float, style: str = "", height: float = 0.5) -> None:  # type: ignore[override]
        """One paragraph, from the side its first letter reads from. Nothing is cut."""
        self.set_font(self.face, style, size)
        letters = self.letters_of(text)
        align = Align.R if reads_from_the_right(text) else Align.L
        self.multi_cell(0, size * height, letters, align=align, new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def letters_of(self, text: str) -> str:
        return written(text, 4 * len(text) + 8, self.letters)


def reads_from_the_right(text: str) -> bool:
    """By the first letter that has a direction."""
    strong = (unicodedata.bidirectional(letter) for letter in text)
    return next((kind for kind in strong if kind in ("L", *RIGHT_TO_LEFT)), "L") in RIGHT_TO_LEFT


def _laid_out(content: Mapping[str, Any], made_at: datetime, paper: Paper, size: float) -> Letter:
    texts = [str(value) for value in content.values() if value]
    out = Letter(paper, content["clinic"], content["reach"] or content["on"], texts)
    out.set_creation_date(made_at)
    out.set_auto_page_break(True, FOOT + 4)
    out.write(content["on"], size)
    for line in (content["to"] or "").splitlines():
        out.write(line, size)
    out.ln(3)
    out.write(content["subject"], size + 1, "B")
    out.write(content["about"], size)
    if content["replaces"]:
        out.write(content["replaces"], size)
    out.ln(3)
    for line in content["text"].splitlines():
        if line.strip():
            out.write(line, size)
        else:
            out.ln(size * 0.3)
    return out


def _closed(out: Letter, content: Mapping[str, Any]) -> bytes:
    """The closing line on every sheet, and its number where there are several."""
    sheets = out.page
    out.set_auto_page_break(False)
    for sheet in range(1, sheets + 1):
        out.page = sheet
        out.set_y(out.h - FOOT)
        out.write(content["basis"], 8)
        if sheets > 1:
            out.write(f"{content['about']}, page {sheet} of {sheets}", 8)
    return out.finished()
