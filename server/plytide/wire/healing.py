"""What the clinic writes of a place of skin: how large it is, that it healed, that it is open again."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, validates_schema

from plytide.wire.fields import Choice, Day, Number, Strict, Text

DEEDS = ("size", "healed", "open")


class HealingSchema(Strict):
    place = Text(most=40, required=True)
    what = Choice(DEEDS, required=True)
    on = Day(required=True)
    length_mm = Number(0.5, 500, "mm", allow_none=True)
    width_mm = Number(0.5, 500, "mm", allow_none=True)
    note = Text(most=300, least=0, allow_none=True)

    @validates_schema(skip_on_field_errors=True)
    def _whole(self, item: dict[str, Any], **kwargs: Any) -> None:
        sized = item.get("length_mm") is not None
        if item.get("what") == "size" and not sized:
            raise ValidationError("A size needs a length.", "length_mm")
        if item.get("what") != "size" and (sized or item.get("width_mm") is not None):
            raise ValidationError("A size is written by itself.", "length_mm")
