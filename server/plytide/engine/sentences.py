"""A signal or a reason from codes and values: its words are made from them, in English here, in another language
elsewhere."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from plytide.engine.languages.en import LANGUAGE as ENGLISH
from plytide.model import Reason, Sentence, Signal, Value


def sentence(code: str, **values: Value) -> Sentence:
    return Sentence(code, tuple(values.items()))


def signal(
    words: Mapping[str, str],
    kind: str,
    level: str,
    since: date,
    sentences: Sequence[Sentence],
    evidence: tuple[str, ...] = (),
    rule: str | None = None,
) -> Signal:
    """`words`: the English of each code, as it stands in the signal's file."""
    return Signal(kind, level, since, in_english(words, sentences, kind), evidence, rule, tuple(sentences))


def reason(words: Mapping[str, str], code: str, *parts: Sentence) -> Reason:
    """`words`: as for a signal. Without a sentence: the one that is called as the reason is."""
    sentences = parts or (sentence(code),)
    return Reason(code, in_english(words, sentences, code), sentences)


def in_english(words: Mapping[str, str], sentences: Sequence[Sentence], what: str) -> str:
    """Raises LookupError where `words` lacks one of the codes."""
    text = ENGLISH.say(sentences, words)
    if text is None:
        raise LookupError(
            f"{what} says {', '.join(one.code for one in sentences)}, and its file lacks words for one of them"
        )
    return text
