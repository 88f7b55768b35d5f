"""What a calendar elsewhere may show."""

from __future__ import annotations

from plytide.wire.fields import Choice, Strict, Text

SHOWS = ("times", "initials", "names")


class CalendarFeedSchema(Strict):
    label = Text(most=60, required=True)
    shows = Choice(SHOWS, load_default="initials")
