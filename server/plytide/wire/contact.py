"""A call with a person, or on their account, as staff record it."""

from __future__ import annotations

from marshmallow import fields

from plytide.wire.fields import Choice, Day, Name, Strict, Telephone, Text
from plytide.wire.visit import BookedVisitSchema

RESULTS = ("reached", "not_reached", "left_word", "called_us")
AFTER = ("leave", "close")


class ContactSchema(Strict):
    result = Choice(RESULTS, required=True)
    number = Telephone(allow_none=True)
    said = Text(most=1000, least=0, allow_none=True)
    agreed = Text(most=1000, least=0, allow_none=True)
    limb_id = Name(allow_none=True)
    signal_id = Name(allow_none=True)  # what the call was about
    after = Choice(AFTER)  # what becomes of that signal; a next try puts it off
    next_on = Day(allow_none=True)
    answer = Text(most=300, least=0, allow_none=True)  # words for the wearer, as with any deed on a signal
    visit = fields.Nested(BookedVisitSchema)  # booked in the same step
