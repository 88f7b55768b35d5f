"""What is asked of the worklist."""

from __future__ import annotations

from plytide import model
from plytide.wire.fields import Choice, Name
from plytide.wire.person import PeopleSearchSchema

SHOWS = ("open", "snoozed", "all")


class WorklistSearchSchema(PeopleSearchSchema):
    state = Choice(model.STATES)
    level = Choice(model.LEVELS)
    clinician = Name()
    show = Choice(SHOWS)
