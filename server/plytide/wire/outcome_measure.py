"""How a person does with the limb, measured at the clinic: comfort of the socket, a timed walk, and two others.

Public procedures of the trade, with no licence of anybody's; how each is done is common practice.
"""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, validates_schema

from plytide.wire.fields import Choice, Day, Number, Strict, Text

#: Kind → the least and the most that is taken for no slip, and the unit: judgement.
KINDS: dict[str, tuple[float, float, str]] = {
    "comfort": (0, 10, "of 10"),
    "timed_walk": (1, 600, "s"),
    "two_minute_walk": (1, 400, "m"),
    "up_and_go": (2, 600, "s"),
}


FASTEST = 5  # metres a second of a timed walk: nobody walks so fast; judgement


class OutcomeMeasureSchema(Strict):
    kind = Choice(tuple(KINDS), required=True)
    on = Day(required=True)
    value = Number(0, 600, required=True)
    distance_m = Number(1, 100, "m", allow_none=True)  # of a timed walk
    device = Text(most=120, least=0, allow_none=True)  # what the person walked with: a stick, two crutches, none
    note = Text(most=300, least=0, allow_none=True)

    @validates_schema(skip_on_field_errors=True)
    def _sound(self, item: dict[str, Any], **kwargs: Any) -> None:
        if "kind" not in item or "value" not in item:
            return
        low, high, unit = KINDS[item["kind"]]
        if not low <= item["value"] <= high:
            raise ValidationError(f"This must be from {low:g} to {high:g} {unit}.", "value")
        walked = item.get("distance_m") is not None
        if walked != (item["kind"] == "timed_walk"):
            words = "This measure has no distance." if walked else "Say how far: times compare over one distance only."
            raise ValidationError(words, "distance_m")
        if walked and item["distance_m"] > FASTEST * item["value"]:
            said = f"{item['distance_m']:g} m in {item['value']:g} s"
            raise ValidationError(f"{said} is faster than anybody walks: look at the time and the distance.", "value")
