"""Photos of skin, and what people agreed to."""

from __future__ import annotations

from plytide.wire.fields import Day, Flag, Instant, Name, Strict, Text


class PhotoSchema(Strict):
    id = Name(required=True)
    limb_id = Name(required=True)
    checkin_id = Name(required=True)


class ConsentSchema(Strict):
    person_id = Name(required=True)
    words = Text(most=60, required=True)  # the version of the words shown
    agreed = Flag(required=True)
    said_at = Instant(required=True)


class PaperConsentSchema(Strict):
    given = Flag(required=True)
    on = Day(required=True)
    by = Text(most=120, required=True)  # whose signature it bears
    what_for = Text(most=200, required=True)
