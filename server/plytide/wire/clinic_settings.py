"""The clinic's own numbers, words, telephones and hours."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, fields, validates_schema

from plytide.wire.fields import (
    REQUIRED,
    Changeable,
    Clock,
    Day,
    EmergencyNumber,
    Flag,
    Mail,
    Several,
    Strict,
    Telephone,
    Text,
    Whole,
    Zone,
)


class HoursSchema(Strict):
    """When the clinic answers its telephone on some days of the week, 1 being Monday."""

    days = Several(Whole(1, 7), most=7, required=True)
    from_ = Clock(required=True, data_key="from", attribute="from")
    to = Clock(required=True)

    @validates_schema
    def _in_order(self, item: dict[str, Any], **kwargs: Any) -> None:
        # A change of settings may leave settings out, but not half of one line of its hours.
        left_out = {name: [REQUIRED] for name in ("days", "from", "to") if name not in item}
        if left_out:
            raise ValidationError(left_out)
        if not item["days"]:
            raise ValidationError("Choose at least one day.", "days")
        if len(set(item["days"])) < len(item["days"]):
            raise ValidationError("A day is named twice.", "days")
        if item["to"] <= item["from"]:
            raise ValidationError("This must be later than when it opens.", "to")


class SettingsSchema(Changeable):
    thresholds = fields.Dict(keys=fields.String(), values=fields.Raw(allow_none=True))
    words = fields.Dict(keys=fields.String(), values=Text(most=500, least=0))
    phone = Telephone(allow_none=True)
    emergency_number = EmergencyNumber(most=20)
    out_of_hours_phone = Telephone(allow_none=True)
    hours = Several(fields.Nested(HoursSchema), most=28)
    closed_on = Several(Day(), most=400)
    zone = Zone(allow_none=True)
    # Months between visits; without one, nobody is called in by the calendar.
    recall_months = Whole(1, 60, allow_none=True)
    child_recall_months = Whole(1, 24, allow_none=True)
    chairs = Several(Text(most=40), most=40)  # rooms or chairs, by the names staff use
    mail = Mail(allow_none=True)
    learn_from_own_limbs = Flag()

    @validates_schema(skip_on_field_errors=True)
    def _no_overlap(self, item: dict[str, Any], **kwargs: Any) -> None:
        spans = [(day, one["from"], one["to"], n) for n, one in enumerate(item.get("hours", [])) for day in one["days"]]
        spans.sort()
        for (day, _, shut, _), (next_day, opens, _, n) in zip(spans, spans[1:], strict=False):
            if day == next_day and opens < shut:
                raise ValidationError("Two times of the same day overlap.", f"hours[{n}].from")
        if len(set(item.get("chairs", []))) < len(item.get("chairs", [])):
            raise ValidationError("A chair is named twice.", "chairs")


def wrong_number(settings: dict[str, Any]) -> tuple[str, str] | None:
    """(setting, why) of the first telephone number that no phone could dial, by the rules of the settings page."""
    for name in ("phone", "out_of_hours_phone", "emergency_number"):
        if settings.get(name) is not None:
            try:
                SettingsSchema().fields[name].deserialize(settings[name])
            except ValidationError as wrong:
                return name, str(wrong.messages[0])
    return None
