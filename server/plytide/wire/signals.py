"""What staff do with a signal."""

from __future__ import annotations

from marshmallow import fields

from plytide.wire.fields import Day, Flag, Name, Strict, Text
from plytide.wire.visit import BookedVisitSchema


class SignalActionSchema(Strict):
    note = Text(most=1000, least=0, allow_none=True)
    staff_id = Name(allow_none=True)
    until = Day(allow_none=True)
    outcome = Text(most=200, allow_none=True)
    answer = Text(most=300, least=0, allow_none=True)  # words for the wearer, shown on their phone
    visit = fields.Nested(BookedVisitSchema)  # booked in the same step
    looked_clear = Flag()  # somebody at the clinic looked at the limb, and its skin is closed
