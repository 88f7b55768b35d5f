"""The language that the reader's browser asks for, and what is kept as codes and values said in it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from flask import request

from plytide.engine.languages import LANGUAGES, assessment_in, because_in, sentences_in, words_in
from plytide.engine.signals import KINDS
from plytide.model import Assessment, Sentence
from plytide.storage.rows import Row
from plytide.wire.history import assessment_to_json


def asked_language() -> str:
    """The code of one that is kept here, or none."""
    return request.accept_languages.best_match(LANGUAGES) or ""


def own_words() -> dict[str, dict[str, str]]:
    """What the pages are to call the codes, by table: what the language asked for has, over the pages' English.

    KIND are the kinds of signal, whose English stands in each signal's file.
    """
    kinds = {kind.kind: kind.label for kind in KINDS.values()}
    words = LANGUAGES[asked_language()].words if asked_language() not in ("", "en") else {}
    return {**{name: dict(table) for name, table in words.items()}, "KIND": kinds | dict(words.get("KIND", {}))}


def said_signal(signal: Row) -> Row:
    """A signal, and what its life holds where that is with it."""
    code = asked_language()
    heard: Row = {"because": because_in(signal, code)}
    if "events" in signal:
        events = signal["events"]
        heard["events"] = [one | {"because": because_in(one, code)} if "because" in one else one for one in events]
    return signal | heard


def said_row(row: Row) -> Row:
    """A row of the worklist with its signals. What its words are made of stays here: the signals carry their own."""
    sentences = row.pop("sentences")
    return row | {
        "why": words_in(sentences, row["why"], asked_language()),
        "signals": [said_signal(one) for one in row["signals"]],
    }


def said_words(sentences: Sequence[Sentence], english: str) -> str:
    return sentences_in(sentences, english, asked_language())


def said_assessment(found: Assessment) -> dict[str, Any]:
    return assessment_to_json(assessment_in(found, asked_language()))
