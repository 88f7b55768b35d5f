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
