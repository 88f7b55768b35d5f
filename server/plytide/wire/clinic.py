"""What the clinic enters: JSON → checked values. Field names are the columns' own where the wire allows."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, fields

from plytide import model
from plytide.wire.checkin import MOST_SOCKS, Refused, SockSchema
from plytide.wire.fields import Choice, Clock, Day, Flag, Name, Number, Several, Strict, Text, Whole, by_field


class EnrolSchema(Strict):
    code = Text(most=40, required=True)
    label = Text(most=60, load_default="Phone")


class SignInSchema(Strict):
    login = Text(most=120, required=True)
    password = Text(most=1024, required=True)
    code = Text(most=40, allow_none=True)


class PersonSchema(Strict):
    name = Text(most=120, required=True)
    born_on = Day(allow_none=True)
    tags = Several(Choice(model.LIMB_TAGS), most=len(model.LIMB_TAGS), load_default=list)
    clinician_id = Name(allow_none=True)
    own_log = Flag()  # writes for themselves: caregivers' phones then see less


class PeopleSearchSchema(Strict):
    q = Text(most=120, least=0)
    next = Text(most=400)
    limit = Whole(1, 200)


SHOWS = ("open", "snoozed", "all")


class WorklistSearchSchema(PeopleSearchSchema):
    state = Choice(model.STATES)
    level = Choice(model.LEVELS)
    clinician = Name()
    show = Choice(SHOWS)


class LimbSchema(Strict):
    side = Choice(model.SIDES, required=True)
    level = Choice(model.LEVELS, required=True)
    amputated_on = Day(allow_none=True)
    shape = Choice(model.SHAPES, allow_none=True)
    reference_circumference_mm = Number(60, 1200, "mm", allow_none=True)


class WearDaySchema(Strict):
    day = Whole(1, 60, required=True)
    hours = Number(0, 24, "hours", required=True)


class SocketSchema(Strict):
    fitted_on = Day(required=True)
    retired_on = Day(allow_none=True)
    purpose = Choice(model.PURPOSES, required=True)
    made = Choice(model.MADE, allow_none=True)
    material = Choice(model.MATERIALS, allow_none=True)
    suspension = Choice(model.SUSPENSIONS, allow_none=True)
    liner_mm = Number(0, 20, "mm", allow_none=True)
    weight_limit_kg = Number(10, 400, "kg", allow_none=True)
    stack_at_fitting = Several(fields.Nested(SockSchema), most=MOST_SOCKS, load_default=list)
    note = Text(most=1000, least=0, allow_none=True)
    trim_lines = Text(most=400, least=0, allow_none=True)
    wear_schedule = Several(fields.Nested(WearDaySchema), most=60, allow_none=True)


class PadSchema(Strict):
    on = Day(required=True)
    thickness_mm = Number(0.1, 30, "mm", required=True)
    place = Text(most=60, allow_none=True)


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


class PadCorrectionSchema(PadSchema):
    reason = Text(most=400, least=0, allow_none=True)


class MeasurementCorrectionSchema(MeasurementSchema):
    reason = Text(most=400, least=0, allow_none=True)


class VoidSchema(Strict):
    reason = Text(most=400, required=True)


class PaperConsentSchema(Strict):
    given = Flag(required=True)
    on = Day(required=True)
    by = Text(most=120, required=True)  # whose signature it bears
    what_for = Text(most=200, required=True)


class SuspensionSchema(Strict):
    on = Day(required=True)
    suspension = Choice(model.SUSPENSIONS, required=True)


class DecisionSchema(Strict):
    on = Day(required=True)
    choice = Choice(model.CHOICES, required=True)
    planned_on = Day(allow_none=True)
    reasons = Several(Text(most=200), most=20, load_default=list)
    note = Text(most=2000, least=0, allow_none=True)


class PhotoSchema(Strict):
    id = Name(required=True)
    limb_id = Name(required=True)
    checkin_id = Name(required=True)


class ConsentSchema(Strict):
    person_id = Name(required=True)
    words = Text(most=60, required=True)  # the version of the words shown
    agreed = Flag(required=True)
    said_at = Text(most=40, required=True)


class PushKeysSchema(Strict):
    p256dh = Text(most=200, required=True)
    auth = Text(most=100, required=True)


class SubscriptionSchema(Strict):
    endpoint = Text(most=1000, required=True)
    keys = fields.Nested(PushKeysSchema, required=True)
    expirationTime = fields.Raw(allow_none=True)


class PushSchema(Strict):
    subscription = fields.Nested(SubscriptionSchema, required=True)
    at = Several(Clock(), most=6, required=True)
    zone = Text(most=64, required=True)
    quiet_from = Clock(allow_none=True)
    quiet_to = Clock(allow_none=True)
    language = Choice(model.LANGUAGES, load_default="en")


class PauseSchema(Strict):
    hours = Whole(0, 24 * 14, required=True)


class SettingsSchema(Strict):
    thresholds = fields.Dict(keys=fields.String(), values=fields.Raw(allow_none=True))
    words = fields.Dict(keys=fields.String(), values=Text(most=500, least=0))
    phone = Text(most=40, allow_none=True)
    emergency_number = Text(most=20)
    mail = Text(most=200, allow_none=True)


class InterventionSchema(Strict):
    on = Day(required=True)
    kind = Text(most=60, required=True)
    note = Text(most=1000, least=0, allow_none=True)


class InterventionCorrectionSchema(InterventionSchema):
    reason = Text(most=400, least=0, allow_none=True)


class NoteSchema(Strict):
    text = Text(most=4000, required=True)


class VisitSchema(Strict):
    on = Day(required=True)
    time = Clock(allow_none=True)
    what = Text(most=200, allow_none=True)
    cancelled = Flag()


class EnrolmentSchema(Strict):
    role = Choice(("wearer", "caregiver"), required=True)
    person_ids = Several(Name(), most=20, allow_none=True)


class SignalActionSchema(Strict):
    note = Text(most=1000, least=0, allow_none=True)
    staff_id = Name(allow_none=True)
    until = Day(allow_none=True)
    outcome = Text(most=200, allow_none=True)


def read(schema: Strict, raw: Any, *, partial: bool = False) -> dict[str, Any]:
    """A checked object. Raises Refused with every fault by field."""
    try:
        item: dict[str, Any] = schema.load(raw, partial=partial)
    except ValidationError as error:
        raise Refused(by_field(error.messages)) from error
    return item
