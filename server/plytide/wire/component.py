"""A part of a socket, as the clinic writes it."""

from __future__ import annotations

from marshmallow import fields

from plytide.wire.despite import DespiteSchema
from plytide.wire.fields import Day, Number, Strict, Text


class ComponentSchema(Strict):
    what = Text(most=120, required=True)
    maker = Text(most=120, least=0, allow_none=True)
    serial = Text(most=80, least=0, allow_none=True)
    weight_limit_kg = Number(10, 400, "kg", allow_none=True)
    warranty_until = Day(allow_none=True)
    life_until = Day(allow_none=True)
    fitted_on = Day(required=True)
    despite = fields.Nested(DespiteSchema)


class RetireSchema(Strict):
    on = Day(required=True)
    why = Text(most=400, least=0, allow_none=True)
