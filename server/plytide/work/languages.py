"""The languages the phone's app speaks: its word files, and of each the words that the server itself says."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

FALLBACK = "en"  # the file that has every word
#: Keys of a word file that are said by the server; each on a line of its own.
SAID_HERE = ("remind.body", "language.direction")
ENTRY = re.compile(r"^  '([\w.]+)': '((?:[^'\\]|\\.)*)',$", re.MULTILINE)


@cache
def languages(web_root: Path) -> dict[str, dict[str, str]]:
    """By language, English first: what the server says in it. A word that a file lacks is said in English."""
    found: dict[str, dict[str, str]] = {}
    files = sorted((web_root / "phone" / "words").glob("*.js"), key=lambda file: (file.stem != FALLBACK, file.stem))
    for file in files:
        words = {key: re.sub(r"\\(.)", r"\1", text) for key, text in ENTRY.findall(file.read_text(encoding="utf-8"))}
        found[file.stem] = {**found.get(FALLBACK, {}), **{key: words[key] for key in SAID_HERE if key in words}}
    return found
