"""The languages a signal's because can be said in. The folder is the list: a file is a language, named by its code."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from typing import Any

from plytide.engine.language import Language
from plytide.model import Sentence

LANGUAGES: dict[str, Language] = {
    one.name: importlib.import_module(f"{__name__}.{one.name}").LANGUAGE for one in pkgutil.iter_modules(__path__)
}


def because_in(said: Mapping[str, Any], code: str) -> str:
    """The because of a signal, or of an event of its life, as it is kept and goes over the wire, in a language.

    In the words in which it was said where that language has not every sentence of it: those are English, and English
    is never said anew, so that what was told stays as it was told.
    """
    sentences = [Sentence(one["code"], tuple(one["values"].items())) for one in said.get("sentences") or ()]
    language = LANGUAGES.get(code)
    return (language.say(sentences) if language and sentences else None) or str(said["because"])
