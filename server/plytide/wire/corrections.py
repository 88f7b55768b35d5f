"""Why a record counts no longer. Another in its place is a schema of its noun."""

from __future__ import annotations

from plytide.wire.fields import Strict, Text


class VoidSchema(Strict):
    reason = Text(most=400, required=True)
