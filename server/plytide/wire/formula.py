"""What a spreadsheet would take for a formula: such cells are written behind an apostrophe, and read again without."""

from __future__ import annotations

import re

# What starts a formula: = + - @ and their full-width forms, tab, carriage return, line feed, also behind spaces
# and behind what nobody sees: marks of direction and joining, the byte order mark, controls.
UNSEEN = r"[\s\x00-\x1f\x7f-\xa0\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f\u2028-\u202f\u205f-\u206f\u3000\u3164\ufe00-\ufe0f\ufeff\uffa0\ufff0-\ufffb]*"
FORMULA = re.compile(UNSEEN + r"[=+\-@\uFF1D\uFF0B\uFF0D\uFF20\u2212\ufe62-\ufe66\ufe6b]|[\t\r\n]")


def unguarded(text: str) -> str:
    """A cell as our own file for spreadsheets guards it, read again."""
    return text[1:] if text[:1] == "'" and FORMULA.match(text[1:]) else text
