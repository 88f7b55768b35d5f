"""A note about a limb."""

from __future__ import annotations

from plytide.wire.fields import Strict, Text


class NoteSchema(Strict):
    text = Text(most=4000, required=True)
