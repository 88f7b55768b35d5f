"""The visit page and the payer's page as PDF, one page each, A4 or Letter, through fpdf2."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from datetime import date
from typing import Literal

from fpdf import FPDF
from fpdf.enums import XPos, YPos

from plytide.exchange.visit_page import Head, VisitPage, full
from plytide.model import Estimate

Paper = Literal["a4", "letter"]
Band = Sequence[tuple[date, Estimate]]

INK, TEAL, SAND = (27, 38, 44), (14, 116, 120), (214, 196, 160)
CUT = 240  # characters of one line: one page holds what it must, the screen holds the rest
NOTICE = "Not a diagnosis. Steady is a signal for the prosthetist, never a verdict."


#: Letters without a decomposition of their own.
NEAR = str.maketrans(
    {"“": '"', "”": '"', "’": "'", "–": "-", "—": "-", "−": "-", "…": "...", "±": "+/-", "≥": ">=", "≤": "<="}
    | {"ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ı": "i", "œ": "oe", "Œ": "OE", "ħ": "h", "Ħ": "H"}
)


def latin(text: str, most: int = CUT) -> str:
    """Text in the PDF core fonts' character set (Latin-1): what they lack is written near to it, never dropped
    silently. Other scripts come out as question marks; the screen's own print has every letter."""
    plain = text.translate(NEAR)
    near = "".join(letter if ord(letter) < 256 else _bare(letter) for letter in unicodedata.normalize("NFC", plain))
    cut = near if len(near) <= most else near[: most - 3] + "..."
    return cut.encode("latin-1", "replace").decode("latin-1")


def _bare(letter: str) -> str:
    return "".join(part for part in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(part))


class Page(FPDF):
    """One page in our own look: ink on white, one teal rule."""

    def __init__(self, paper: Paper, title: str, under: str) -> None:
        super().__init__(format=paper, unit="mm")
        self.set_auto_page_break(False)
        self.set_margins(16, 14, 16)
        self.set_title(latin(title))
        self.set_creator("Plytide")
        self.add_page()
        self.set_text_color(*INK)
        self.set_font("helvetica", "B", 17)
        self.line_of(title, 8)
        self.set_font("helvetica", "", 10)
        self.line_of(under, 5)
        self.set_draw_color(*TEAL)
        self.set_line_width(0.8)
        self.line(self.l_margin, self.get_y() + 2, self.w - self.r_margin, self.get_y() + 2)
        self.ln(5)

    @property
    def room(self) -> float:
        """mm left above the foot."""
        return float(self.h - 20 - self.get_y())

    def line_of(self, text: str, height: float, most: int = CUT) -> None:
        if self.room >= height:
            self.multi_cell(0, height, latin(text, most), new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def head(self, text: str) -> None:
        self.ln(1.5)
        self.set_font("helvetica", "B", 11)
        self.line_of(text, 6)
        self.set_font("helvetica", "", 10)

    def points(self, lines: Sequence[str]) -> None:
        for text in lines:
            self.line_of(f"-  {text}", 4.8)

    def foot(self, text: str) -> bytes:
        self.set_y(self.h - 14)
        self.set_font("helvetica", "", 8)
        self.multi_cell(0, 4, latin(text), new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        return bytes(self.output())


def chart(page: Page, band: Band, height: float = 38) -> None:
    """The slow level against the day of fitting, with its 90 % band, drawn as shapes and named in words."""
    if len(band) < 2 or page.room < height + 8:
        return
    left, top, width = page.l_margin + 12, page.get_y() + 1, page.w - page.l_margin - page.r_margin - 12
    low, high = min(0.0, *(e.low for _, e in band)), max(0.0, *(e.high for _, e in band))
    spread = max(high - low, 1.0)

    def at(n: int, pct: float) -> tuple[float, float]:
        return left + width * n / (len(band) - 1), top + height * (high - pct) / spread

    edge = [at(n, e.high) for n, (_, e) in enumerate(band)] + [at(n, e.low) for n, (_, e) in enumerate(band)][::-1]
    page.set_fill_color(*SAND)
    page.polygon(edge, style="F")
    page.set_draw_color(*INK)
    page.set_line_width(0.2)
    page.line(left, at(0, 0)[1], left + width, at(0, 0)[1])
    page.set_draw_color(*TEAL)
    page.set_line_width(0.6)
    page.polyline([at(n, e.value) for n, (_, e) in enumerate(band)])
    page.set_font("helvetica", "", 8)
    for pct in sorted({round(low), 0, round(high)}):
        page.text(page.l_margin, at(0, pct)[1] + 1, f"{pct:+d} %")
    page.set_y(top + height + 1)
    words = (
        f"Volume against the day of fitting (line), 90 % interval (band), {full(band[0][0])} to "
        f"{full(band[-1][0])}. The zero line is the socket."
    )
    page.line_of(words, 4)


def visit_pdf(page: VisitPage, band: Band, day: date, clinic: str, paper: Paper = "a4") -> bytes:
    """The page before a visit."""
    out = Page(paper, page.who, f"{page.limb}  -  {clinic}, {full(day)}")
    out.set_font("helvetica", "", 10)
    out.line_of(page.socket, 5)
    out.set_font("helvetica", "B", 10)
    out.line_of(page.state, 5)
    out.head("What changed")
    out.points([line.text for line in page.changed] or ["Nothing to act on."])
    chart(out, band)
    out.head("The last two weeks")
    out.points([f"{what}: {value}" for what, value in page.recent])
    out.head("Ask")
    out.points(page.ask)
    out.head("Look at")
    out.points(page.look)
    if page.decided:
        out.head("Decided on a recast")
        out.points(page.decided)
    return out.foot(f"Patient-reported unless it says clinic. {NOTICE}")


def payer_pdf(heads: Sequence[Head], name: str, limb: str, day: date, clinic: str, paper: Paper = "a4") -> bytes:
    """The page for the payer's file."""
    out = Page(paper, name, f"{limb}  -  {clinic}, {full(day)}  -  PATIENT-REPORTED")
    for head in heads:
        out.head(head.head)
        out.points([line.text for line in head.lines])
    return out.foot(f"Made from the wearer's own log. {NOTICE}")
