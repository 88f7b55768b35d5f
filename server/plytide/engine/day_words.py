"""Days, counts and stacks of socks as they are said in an English sentence."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date


def short(day: date) -> str:
    """3 June: the way a date is said in a sentence."""
    return f"{day.day} {day:%B}"


def full(day: date) -> str:
    """3 June 2026: where the year may be another."""
    return f"{short(day)} {day.year}"


def many(count: int, noun: str) -> str:
    """One month, 2 months: a count with its noun."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def days(count: int) -> str:
    return many(count, "day")


def worn_for(count: int) -> str:
    """How long a socket has been worn: in days, and from two months on in months."""
    return days(count) if count < 60 else many(round(count / 30.4), "month")


def stack(codes: Sequence[str]) -> str:
    """5+1-ply, 3-ply blend, 5+1-ply and a sheath: a stack by its labels. Codes as `engine.worn` makes them."""
    single = "+".join(code for code in codes if code != "0" and not code.endswith("b"))
    blend = "+".join(code[:-1] for code in codes if code.endswith("b"))
    sheaths = codes.count("0")
    sheath = "" if not sheaths else "a sheath" if sheaths == 1 else f"{sheaths} sheaths"
    parts = [single and f"{single}-ply", blend and f"{blend}-ply blend", sheath]
    return " and ".join(part for part in parts if part) or "no sock"


#: What a change of sock comes to in single-material socks as they measure under load (`core.thickness`); as the
#: clinic's pages say it (`web/clinic/words.js`).
IN_PLY = (
    (0.7, "about a 1-ply"),
    (1.2, "about a 3-ply"),
    (1.5, "about a 5-ply"),
    (2.2, "about 5+1-ply"),
    (3.0, "about 5+5-ply"),
    (4.5, "about 5+5+5-ply"),
)


def in_ply(mm: float) -> str:
    """About a 1-ply more: millimetres of sock, said in ply. Rounded as the figure beside it is."""
    size, way = abs(round(mm, 1)), "less" if mm < 0 else "more"
    if size < 0.15:
        return "no more and no less sock"
    if size < 0.5:
        return f"less than a 1-ply {way}"
    if size > 5:
        return f"more than 5+5+5-ply {way}"
    return f"{min(IN_PLY, key=lambda one: abs(one[0] - size))[1]} {way}"
