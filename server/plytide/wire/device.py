"""What is said to enrol a phone."""

from __future__ import annotations

from plytide.wire.fields import Choice, Name, Several, Strict, Text


class EnrolSchema(Strict):
    code = Text(most=40, required=True)
    label = Text(most=60, load_default="Phone")


class EnrolmentSchema(Strict):
    role = Choice(("wearer", "caregiver"), required=True)
    person_ids = Several(Name(), most=20, allow_none=True)
