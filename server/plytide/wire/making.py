"""A socket being made: begun, its steps answered, finished; and the clinic's own list of steps."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from marshmallow import ValidationError, fields, validates_schema

from plytide import model
from plytide.wire.checkin import Refused
from plytide.wire.despite import DespiteSchema
from plytide.wire.fields import Choice, Day, Flag, Name, Number, Several, Strict, Text, Whole
from plytide.wire.socket import SocketSchema

PHASES = ("before", "during", "after")
STATES = ("open", "done", "not-needed")
MOST_STEPS = 80
Step = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Ask:
    """What a step asks for beside its tick."""

    kind: str  # choice, number or text
    options: tuple[tuple[str, str], ...] = ()
    unit: str = ""
    low: float = 0
    high: float = 0
    stops: bool = False  # the making is stopped by some of its answers


ASKS = {
    "shape": Ask("choice", (("draws-off", "draws off"), ("bulbous", "wider below: would not draw off")), stops=True),
    "skin": Ask("choice", (("closed", "closed"), ("open", "open")), stops=True),
    "scar": Ask("choice", (("none", "none"), ("shallow", "shallow"), ("deep", "deep, drawn in")), stops=True),
    "weight": Ask("number", unit="kg", low=2, high=400, stops=True),
    "limit": Ask("number", unit="kg", low=10, high=400, stops=True),
    "length": Ask("number", unit="mm", low=10, high=900, stops=True),
    "pin_least": Ask("number", unit="mm", low=10, high=900, stops=True),
    "feeling": Ask("choice", (("felt", "felt"), ("reduced", "felt less"), ("none", "not felt")), stops=True),
    "heat2": Ask("text", stops=True),
    "comfort": Ask("number", unit="of 10", low=0, high=10),
}
LINK = re.compile(r"https?://[^\s<>\"']{1,380}")


class BeginSchema(Strict):
    id = Name(required=True)
    made = Choice(model.MADE, required=True)
    on = Day(required=True)
    purpose = Choice(model.PURPOSES, required=True)
    suspension = Choice(model.SUSPENSIONS, model.SUSPENSION_WAS, allow_none=True)
    despite = fields.Nested(DespiteSchema)


class PlanSchema(Strict):
    id = Name(required=True)
    purpose = Choice(model.PURPOSES, required=True)
    suspension = Choice(model.SUSPENSIONS, model.SUSPENSION_WAS, required=True, allow_none=True)


class StepSchema(Strict):
    id = Name(required=True)  # made by the page: a second press answers nothing twice
    step = Name(required=True)
    # What is not said stays as it was: another screen may have answered it meanwhile.
    state = Choice(STATES)
    value = fields.Raw(allow_none=True)  # by the step, in `value_of`
    note = Text(most=1000, least=0, allow_none=True)
    why = Text(most=400, least=0, allow_none=True)  # why it is put right, once the socket is finished
    despite = fields.Nested(DespiteSchema)


class MadeSocketSchema(SocketSchema):
    """What is said of a socket at its end; what it is for and how it was made is known by then."""

    class Meta(Strict.Meta):
        exclude = ("made", "suspension", "purpose", "despite", "was")


class FinishSchema(Strict):
    id = Name(required=True)
    socket = fields.Nested(MadeSocketSchema, required=True)
    bring = Text(most=400, least=0, allow_none=True)
    retires = Name(allow_none=True)  # the socket worn until then
    retired_why = Text(most=400, least=0, allow_none=True)
    open_seen = Flag()  # whoever finishes was told what is open, and leaves it so
    despite = fields.Nested(DespiteSchema)


class MakingVoidSchema(Strict):
    id = Name(required=True)
    reason = Text(most=400, least=3, required=True)


class MakingRestoreSchema(Strict):
    id = Name(required=True)
    despite = fields.Nested(DespiteSchema)


class TakeSchema(Strict):
    id = Name(required=True)
    item_id = Name(required=True)
    count = Whole(1, 100, required=True)
    counted_in = Choice(("unit", "pair"))
    lot = Text(most=60, least=0, allow_none=True)
    despite = fields.Nested(DespiteSchema)


class ListStepSchema(Strict):
    code = Name(allow_none=True)  # none: a new one
    phase = Choice(PHASES, required=True)
    text = Text(most=200, required=True)


class ListSchema(Strict):
    steps = Several(fields.Nested(ListStepSchema), most=MOST_STEPS, least=1, required=True, allow_none=True)
    instructions = Text(most=2000, least=0, allow_none=True)
    url = Text(most=400, least=0, allow_none=True)
    pin_least_mm = Number(10, 900, "mm", allow_none=True)
    limit_kg = Number(10, 400, "kg", allow_none=True)
    bring = Text(most=400, least=0, allow_none=True)
    wear = Several(Number(0, 24, "hours"), most=60, allow_none=True)
    was = Whole(0, 1_000_000_000)  # which version the page showed; 0: ours

    @validates_schema(skip_on_field_errors=True)
    def _sound(self, item: dict[str, Any], **kwargs: Any) -> None:
        url = (item.get("url") or "").strip()
        if url and not LINK.fullmatch(url):
            raise ValidationError("This must be an address that begins with https:// or http://.", "url")
        codes = [one["code"] for one in item.get("steps") or () if one.get("code")]
        if len(set(codes)) < len(codes):
            raise ValidationError("The same step stands here twice.", "steps")


def value_of(code: str, value: Any) -> Any:
    """A step's answer, checked by what it asks for; None where nothing is said. Raises Refused."""
    try:
        return _value_of(ASKS.get(code), value)
    except ValidationError as error:
        raise Refused({"value": [str(error.messages[0])]}) from error


def _value_of(ask: Ask | None, value: Any) -> Any:
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    if ask is None:
        raise ValidationError("This step asks for no value; write a note.")
    if ask.kind == "choice":
        codes = [one for one, _ in ask.options]
        if value not in codes:
            raise ValidationError(f"This must be one of: {', '.join(codes)}.")
        return value
    if ask.kind == "number":
        if type(value) not in (int, float) or not math.isfinite(value) or not ask.low <= value <= ask.high:
            raise ValidationError(f"This must be a number from {ask.low:g} to {ask.high:g} {ask.unit}.")
        return value
    return Text(most=400).deserialize(value).strip()
