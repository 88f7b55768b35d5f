"""A part whose warranty or life ends on a date."""

from __future__ import annotations

from plytide.wire.fields import Day, Strict, Text


class PartSchema(Strict):
    what = Text(most=120, required=True)
    ends_on = Day(required=True)
