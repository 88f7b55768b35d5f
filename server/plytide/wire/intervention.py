"""Something done to a limb or a socket, and another in its place."""

from __future__ import annotations

from plytide.wire.fields import Day, Strict, Text


class InterventionSchema(Strict):
    on = Day(required=True)
    kind = Text(most=60, required=True)
    note = Text(most=1000, least=0, allow_none=True)


class InterventionCorrectionSchema(InterventionSchema):
    reason = Text(most=400, least=0, allow_none=True)
