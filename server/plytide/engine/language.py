"""What a language needs so that a signal or a reason can be said in it, and the saying."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from string import Formatter
from typing import Any

from plytide.engine.staff_words import word_of
from plytide.model import Sentence

WRITTEN = re.compile(r"\{\w+\}")  # words that begin with what somebody wrote


@dataclass(frozen=True, slots=True)
class Language:
    """`sentences`: by code, the words with what is filled in. `words`: by table of `staff_words`, code → word.

    A sentence fills in by name: `{on:day}` a date, `{on:full}` one with its year, `{planned:span}` the days from one to
    another, `{count:days}` a number of days with its noun, `{before:ply}` the codes of a stack by its labels,
    `{mm:socks}` millimetres of sock in ply,
    `{found:FINDING}` the words of codes in a table, and anything else as Python formats it. One whose words end in a
    comma goes on in the next; any other is a whole, and the first letter of each whole is made a capital, unless
    somebody wrote it.
    """

    months: tuple[str, ...]
    days: Callable[[int], str]
    date: str = "{day} {month}"
    full: str = "{day} {year}"
    span: str = "{first} to {last}"
    span_in_month: str = "{first_day} to {last}"
    decimal: str = "."
    minus: str = "−"
    stack: Callable[[Sequence[str]], str] = "+".join
    socks: Callable[[float], str] = "{:.1f} mm".format
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    sentences: Mapping[str, str] = field(default_factory=dict)

    def say(self, sentences: Sequence[Sentence], words: Mapping[str, str] | None = None) -> str | None:
        """The sentences one after another; None where this language lacks one of them, so that none is left out."""
        known = self.sentences if words is None else words
        if any(one.code not in known for one in sentences):
            return None
        fill = _Fill(self)
        parts: list[str] = []
        for one in sentences:
            text = fill.vformat(known[one.code], (), dict(one.values))
            as_it_is = (parts and parts[-1].endswith(",")) or WRITTEN.match(known[one.code])
            parts.append(text if as_it_is else text[:1].upper() + text[1:])
        return " ".join(parts)


class _Fill(Formatter):
    def __init__(self, language: Language) -> None:
        self.language = language

    def format_field(self, value: Any, format_spec: str) -> str:
        if format_spec == "day":
            return self._day(value)
        if format_spec == "span":
            first, last = map(_date, value)
            if first == last:
                return self._day(first)
            same = (first.year, first.month) == (last.year, last.month)
            words = self.language.span_in_month if same else self.language.span
            return words.format(first=self._day(first), first_day=first.day, last=self._day(last))
        if format_spec == "ply":
            return self.language.stack(value)
        if format_spec == "socks":
            return self.language.socks(value)
        if format_spec == "days":
            return self.language.days(value)
        if format_spec == "full":
            return self.language.full.format(day=self._day(value), year=_date(value).year)
        if format_spec.isupper():
            return ", ".join(word_of(self.language.words.get(format_spec, {}), code) for code in value)
        text = format(value, format_spec)
        if not isinstance(value, float):
            return text
        return text.replace(".", self.language.decimal).replace("-", self.language.minus)

    def _day(self, value: date | str) -> str:
        day = _date(value)
        return self.language.date.format(day=day.day, month=self.language.months[day.month - 1])


def _date(value: date | str) -> date:
    return date.fromisoformat(value) if isinstance(value, str) else value
