"""The visit page and the payer's page as PDF, one page each, A4 or Letter, through fpdf2.

In the PDF's own font where it has every letter; else in Noto Sans and Noto Sans Arabic (OFL), shaped by HarfBuzz,
of which only the letters used go along.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Sequence
from datetime import date
from typing import Literal

import fontpkg
from fpdf import FPDF
from fpdf.enums import XPos, YPos
from fpdf.fonts import TTFFont

from plytide.engine.facts import full
from plytide.engine.worn import Strip
from plytide.export.visit_page import Head, VisitPage
from plytide.model import Estimate

Paper = Literal["a4", "letter"]
Band = Sequence[tuple[date, Estimate]]

TIDE = (198, 226, 226)
INK, TEAL, SAND = (27, 38, 44), (14, 116, 120), (214, 196, 160)
SHOWN_DAYS = 91  # as on the screen's page; older days squeeze the recent ones
CUT = 4000  # characters of one line: more than anything a clinic can enter; a sheet that is full has another behind it
SCALES = (
    1.0,
    0.95,
    0.9,
    0.85,
)  # of letters of 10 points, tried until one sheet holds all; nothing smaller reads with ease
FOOT = 16  # mm kept free for the closing line
NOTICE = "Not a diagnosis; the decision is the prosthetist’s. Steady is a signal, never a verdict."
BRACKETS = "In brackets: the range made to hold the true value 9 times in 10 (tried on simulated limbs)."


#: Letters without a decomposition of their own.
NEAR = str.maketrans(
    {"“": '"', "”": '"', "’": "'", "–": "-", "—": "-", "−": "-", "…": "...", "±": "+/-", "≥": ">=", "≤": "<="}
    | {"ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ı": "i", "œ": "oe", "Œ": "OE", "ħ": "h", "Ħ": "H"}
)


LATIN = range(256)  # what the PDF's own fonts hold


def written(text: str, most: int = CUT, letters: Collection[int] = LATIN) -> str:
    """Text in the letters of a font: what it lacks is written near to it, or as a question mark, never dropped."""
    spelled = text.translate(NEAR) if letters is LATIN else " ".join(text.split())
    plain = unicodedata.normalize("NFC", spelled)
    near = "".join(letter if ord(letter) in letters else NEAR.get(ord(letter)) or _bare(letter) for letter in plain)
    cut = near if len(near) <= most else near[: most - 3] + "..."
    return "".join(letter if ord(letter) in letters else "?" for letter in cut)


def near_latin(text: str) -> bool:
    """Whether every letter is Latin-1 or can be written near to it."""
    return written(text, len(text) + 3).count("?") == text.count("?")


WIDE = {"sans": "Noto Sans", "arabic": "Noto Sans Arabic"}


def _bare(letter: str) -> str:
    return "".join(part for part in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(part))


class Page(FPDF):
    """A page in our own look: ink on white, one teal rule. What it has no room for stands on the next."""

    scale = 1.0  # of letters and drawings

    def __init__(self, paper: Paper, title: str, under: str, texts: Sequence[str] = (), scale: float = 1.0) -> None:
        super().__init__(format=paper, unit="mm")
        self.scale = scale
        self.face, self.letters = self.faces([title, under, *texts])
        self.set_auto_page_break(True, FOOT)
        self.set_margins(16, 14, 16)
        self.set_title(written(title, CUT, self.letters))
        self.set_creator("Plytide")
        self.add_page()
        self.set_text_color(*INK)
        self.letters_at(17, "B")
        self.line_of(title, 8)
        self.letters_at(10)
        self.line_of(under, 5)
        self.set_draw_color(*TEAL)
        self.set_line_width(0.8)
        self.line(self.l_margin, self.get_y() + 2, self.w - self.r_margin, self.get_y() + 2)
        self.ln(5)

    def faces(self, texts: Sequence[str]) -> tuple[str, Collection[int]]:
        """The font these texts need, and its letters. The larger one has no bold cut: making it takes seconds."""
        if all(near_latin(text) for text in texts):
            return "helvetica", LATIN
        for name, family in WIDE.items():
            for style in ("", "B"):
                self.add_font(name, style, fontpkg.path(family))
        self.set_fallback_fonts(["arabic"])
        self.set_text_shaping(True)
        return "sans", {code for font in self.fonts.values() if isinstance(font, TTFFont) for code in font.cmap}

    @property
    def room(self) -> float:
        """mm left above the foot."""
        return float(self.h - FOOT - self.get_y())

    def make_room(self, height: float) -> None:
        """On to the next sheet, where this one can't hold so much in one piece."""
        if self.room < height:
            self.add_page()

    def line_of(self, text: str, height: float) -> None:
        words = written(text, CUT, self.letters)
        self.multi_cell(0, height * self.scale, words, align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def letters_at(self, points: float, style: str = "") -> None:
        self.set_font(self.face, style, points * self.scale)

    def head(self, text: str) -> None:
        self.make_room(14)  # a heading never stands alone at the end of a sheet
        self.ln(1.5)
        self.letters_at(11, "B")
        self.line_of(text, 6)
        self.letters_at(10)

    def points(self, lines: Sequence[str]) -> None:
        for text in lines:
            self.line_of(f"-  {text}", 4.8)

    def finished(self) -> bytes:
        """The document; the font files it read are closed, not left to the garbage collector."""
        made = bytes(self.output())
        self.put_away()
        return made

    def put_away(self) -> None:
        for font in self.fonts.values():
            if isinstance(font, TTFFont):
                font.close()

    def foot(self, text: str, whose: str) -> bytes:
        """The closing line on every sheet, with whose it is and its number where there are several."""
        sheets = self.page
        self.set_auto_page_break(False)
        for sheet in range(1, sheets + 1):
            self.page = sheet
            self.set_y(self.h - 14)
            self.set_font(self.face, "", 8)
            self.line_of(text, 3.5)
            if sheets > 1:
                self.line_of(f"{whose}, page {sheet} of {sheets}", 3.5)
        return self.finished()


def chart(page: Page, band: Band, height: float = 38) -> None:
    """The limb's slow level on its one scale, with its 90 % band, drawn as shapes and named in words."""
    if len(band) < 2:
        return
    height *= page.scale
    page.make_room(height + 12)
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
    page.letters_at(8)
    for pct in sorted({round(low), 0, round(high)}):
        page.text(
            page.l_margin,
            min(at(0, pct)[1] + 1, top + height),
            written(f"{pct:+d} %" if pct else "0 %", CUT, page.letters),
        )
    page.set_y(top + height + 2)
    words = (
        f"The limb's volume against the first day known (line), 90 % interval (band), {full(band[0][0])} to "
        f"{full(band[-1][0])}. The zero line is the limb on that first day."
    )
    page.line_of(words, 4)


DEEPEST_MM = 7.0  # of the strip, as on the screens


def sock_strip(page: Page, strip: Strip | None, height: float = 14) -> None:
    """Four weeks of morning socks, hung from the socket's rim: the more sock, the lower, the smaller the limb."""
    if strip is None or all(mm is None for mm in strip.mm):
        return
    height *= page.scale
    page.make_room(height + 7)
    left, top = page.l_margin + 12, page.get_y() + 1
    step = (page.w - left - page.r_margin) / len(strip.mm)
    page.set_fill_color(*TIDE)
    for n, mm in enumerate(strip.mm):
        if mm is not None:
            depth = height * min(mm, DEEPEST_MM) / DEEPEST_MM
            page.rect(left + n * step, top + depth, step, height - depth, style="F")
    page.set_draw_color(*TEAL)
    page.set_line_width(0.6)
    for n, mm in enumerate(strip.mm):
        if mm is not None:
            at = top + height * min(mm, DEEPEST_MM) / DEEPEST_MM
            page.line(left + n * step, at, left + (n + 1) * step, at)
    page.set_draw_color(*SAND)
    page.set_line_width(0.8)
    page.line(left, top, left + step * len(strip.mm), top)
    page.letters_at(8)
    page.text(page.l_margin, top + 2.5, "rim")
    page.set_y(top + height + 1)
    page.line_of(
        "Morning socks of 28 days, under the socket's rim: lower is more sock, a smaller limb. Gaps: not said.", 4
    )
    page.letters_at(10)


def visit_pdf(page: VisitPage, band: Band, day: date, clinic: str, paper: Paper = "a4") -> bytes:
    """The page before a visit: on one sheet where smaller letters make it fit, else on as many as it needs."""
    texts = [
        page.socket,
        page.reading,
        page.state,
        *(line.text for line in page.changed),
        *page.ask,
        *page.look,
        *page.decided,
        *(value for _, value in page.recent),
    ]
    under = f"{page.limb}  -  {clinic}, {full(day)}"
    for scale in SCALES:
        out = Page(paper, page.who, under, texts, scale)
        _visit(out, page, band)
        if out.page == 1:
            break
        out.put_away()
    else:
        out = Page(paper, page.who, under, texts)
        _visit(out, page, band)
    return out.foot(f"{BRACKETS} Patient-reported unless it says clinic. {NOTICE}", page.who)


def _visit(out: Page, page: VisitPage, band: Band) -> None:
    out.letters_at(10)
    if page.reading:
        out.letters_at(10, "B")
        out.line_of(f"To know: {page.reading}.", 5)
        out.letters_at(10)
    out.line_of(page.socket, 5)
    out.letters_at(10, "B")
    out.line_of(page.state, 5)
    out.head("What changed")
    out.points([line.text for line in page.changed] or ["Nothing to act on."])
    sock_strip(out, page.strip)
    chart(out, band[-SHOWN_DAYS:])
    out.head("The last two weeks")
    out.points([f"{what}: {value}" for what, value in page.recent])
    out.head("Ask")
    out.points(page.ask)
    out.head("Look at")
    out.points(page.look)
    if page.decided:
        out.head("Decided on a recast")
        out.points(page.decided)


def payer_pdf(heads: Sequence[Head], name: str, limb: str, day: date, clinic: str, paper: Paper = "a4") -> bytes:
    """The page for the payer's file."""
    texts = [line.text for head in heads for line in head.lines]
    out = Page(paper, name, f"{limb}  -  {clinic}, {full(day)}  -  PATIENT-REPORTED", texts)
    for head in heads:
        out.head(head.head)
        out.points([line.text for line in head.lines])
    return out.foot(f"Made from the wearer's own log. {NOTICE}", name)
