"""A tape measurement, and another in its place."""

from __future__ import annotations

from datetime import date
from typing import Any

from marshmallow import fields

from plytide import model
from plytide.wire.fields import Day, Number, Several, Strict, Text


class TapeLevelSchema(Strict):
    name = Text(most=60, allow_none=True)
    from_end_mm = Number(0, 1000, "mm", required=True)
    circumference_mm = Number(30, 1500, "mm", required=True)


class MeasurementSchema(Strict):
    on = Day(required=True)
    levels = Several(fields.Nested(TapeLevelSchema), most=20, required=True)
    minutes_since_doffing = Number(0, 1440, "minutes", allow_none=True)
    weight_kg = Number(2, 400, "kg", allow_none=True)
    measured_by = Text(most=120, allow_none=True)
    height_cm = Number(30, 250, "cm", allow_none=True)


class MeasurementCorrectionSchema(MeasurementSchema):
    reason = Text(most=400, least=0, allow_none=True)


def noun(one: dict[str, Any]) -> model.Measurement:
    levels = tuple(
        model.TapeLevel(level["from_end_mm"], level["circumference_mm"], level.get("name")) for level in one["levels"]
    )
    return model.Measurement(
        date.fromisoformat(one["on"]),
        levels,
        one.get("minutes_since_doffing"),
        one.get("weight_kg"),
        one.get("measured_by"),
        one.get("id", ""),
    )
