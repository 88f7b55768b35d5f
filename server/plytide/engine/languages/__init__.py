"""The languages in which signals and reasons can be said. The folder is the list: a file is one, named by its code."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from plytide.engine.language import Language
from plytide.model import Assessment, Sentence

LANGUAGES: dict[str, Language] = {
    one.name: importlib.import_module(f"{__name__}.{one.name}").LANGUAGE for one in pkgutil.iter_modules(__path__)
}


def because_in(kept: Mapping[str, Any], code: str) -> str:
    """The because of a signal, or of an event of its life, as it is kept and goes over the wire, in a language."""
    return words_in(kept.get("sentences"), str(kept["because"]), code)


def words_in(kept: Iterable[Mapping[str, Any]] | None, as_said: str, code: str) -> str:
    """What is kept as codes and values, in a language.

    In the words in which it was said where that language has not every sentence of it: those are English, and English
    is never said anew, so that what was told stays as it was told.
    """
    return sentences_in([Sentence(one["code"], tuple(one["values"].items())) for one in kept or ()], as_said, code)


def assessment_in(found: Assessment, code: str) -> Assessment:
    """What is said of a limb, its reasons and its signals, in a language."""
    return replace(
        found,
        reasons=tuple(replace(one, text=sentences_in(one.sentences, one.text, code)) for one in found.reasons),
        signals=tuple(replace(one, because=sentences_in(one.sentences, one.because, code)) for one in found.signals),
    )


def sentences_in(sentences: Sequence[Sentence], as_said: str, code: str) -> str:
    language = LANGUAGES.get(code)
    return (language.say(sentences) if language and sentences else None) or as_said
