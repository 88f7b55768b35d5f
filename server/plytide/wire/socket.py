"""A socket, how it is worn, and a suspension switched on it."""

from __future__ import annotations

from datetime import date
from typing import Any

from marshmallow import ValidationError, fields, validates

from plytide import model
from plytide.wire.checkin import MOST_SOCKS, SockSchema
from plytide.wire.despite import DespiteSchema
from plytide.wire.fields import Changeable, Choice, Day, Number, Several, Strict, Text, Whole


class WearDaySchema(Strict):
    day = Whole(1, 60, required=True)
    hours = Number(0, 24, "hours", required=True)


class SocketSchema(Changeable):
    fitted_on = Day(required=True)
    retired_on = Day(allow_none=True)
    purpose = Choice(model.PURPOSES, required=True)
    made = Choice(model.MADE, allow_none=True)
    material = Choice(model.MATERIALS, model.MATERIAL_WAS, allow_none=True)
    suspension = Choice(model.SUSPENSIONS, model.SUSPENSION_WAS, allow_none=True)
    liner_mm = Number(0, 20, "mm", allow_none=True)
    liner_size = Text(most=40, least=0, allow_none=True)
    liner_profile = Text(most=60, least=0, allow_none=True)
    lock_or_valve = Text(most=120, least=0, allow_none=True)  # which, as the clinic writes it
    weight_limit_kg = Number(10, 400, "kg", allow_none=True)
    # Null: not entered. An empty list: no sock was worn.
    stack_at_fitting = Several(fields.Nested(SockSchema), most=MOST_SOCKS, allow_none=True, load_default=None)
    note = Text(most=1000, least=0, allow_none=True)
    trim_lines = Text(most=400, least=0, allow_none=True)
    wear_schedule = Several(fields.Nested(WearDaySchema), most=60, allow_none=True)
    retired_why = Text(most=400, least=0, allow_none=True)
    despite = fields.Nested(DespiteSchema)  # why staff go on, where something stands against it

    @validates("wear_schedule")
    def _each_day_once(self, value: list[dict[str, Any]] | None, **kwargs: Any) -> None:
        days = [one.get("day") for one in value or ()]  # of what is refused for itself the day may be missing
        twice = next((day for day in days if day is not None and days.count(day) > 1), None)
        if twice is not None:
            raise ValidationError(f"Day {twice} stands here twice.")


class SuspensionSchema(Strict):
    on = Day(required=True)
    suspension = Choice(model.SUSPENSIONS, model.SUSPENSION_WAS, required=True)
    liner = Text(most=120, least=0, allow_none=True)  # worn with it from then on
    despite = fields.Nested(DespiteSchema)


def noun(one: dict[str, Any], limb_id: str) -> model.Socket:
    """What was not entered may be left out. An empty stack says "no sock" only where that is sure."""
    stack, retired_on = one["stack_at_fitting"], one.get("retired_on")
    socks = None if stack is None else tuple(model.Sock(sock["ply"], sock.get("make", "unknown")) for sock in stack)
    return model.Socket(
        id=one["id"],
        fitted_on=date.fromisoformat(one["fitted_on"]),
        retired_on=date.fromisoformat(retired_on) if retired_on else None,
        purpose=one["purpose"],
        stack_at_fitting=socks,
        baseline_unsure=bool(one.get("baseline_unsure", stack == [])),  # files have long said an empty list for both
        weight_limit_kg=one.get("weight_limit_kg"),
        made=one.get("made"),
        material=one.get("material"),
        suspension=one.get("suspension"),
        liner_mm=one.get("liner_mm"),
        note=one.get("note"),
        limb_id=limb_id,
    )
