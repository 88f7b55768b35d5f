"""What was decided about a recast."""

from __future__ import annotations

from marshmallow import fields

from plytide import model
from plytide.wire.fields import Choice, Day, Flag, Several, Strict, Text
from plytide.wire.visit import BookedVisitSchema


class DecisionSchema(Strict):
    on = Day(required=True)
    choice = Choice(model.CHOICES, required=True)
    planned_on = Day(allow_none=True)
    reasons = Several(Text(most=600), most=20, load_default=list)  # the plan's own sentences among them
    note = Text(most=2000, least=0, allow_none=True)
    visit_booked = Flag()
    visit = fields.Nested(BookedVisitSchema)  # booked in the same step
