"""What is said to erase a person."""

from __future__ import annotations

from plytide.wire.fields import Strict, Text


class ErasureSchema(Strict):
    reason = Text(most=500, least=0, allow_none=True)


class ConfirmSchema(Strict):
    name = Text(most=120, required=True)
