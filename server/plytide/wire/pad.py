"""A pad in a socket, and another in its place."""

from __future__ import annotations

from datetime import date
from typing import Any

from plytide import model
from plytide.wire.fields import Day, Number, Strict, Text


class PadSchema(Strict):
    on = Day(required=True)
    thickness_mm = Number(0.1, 30, "mm", required=True)
    place = Text(most=60, allow_none=True)
    length_mm = Number(1, 600, "mm", allow_none=True)
    width_mm = Number(1, 600, "mm", allow_none=True)


class PadCorrectionSchema(PadSchema):
    reason = Text(most=400, least=0, allow_none=True)


def noun(one: dict[str, Any]) -> model.Pad:
    on = date.fromisoformat(one["on"])
    return model.Pad(one["socket_id"], on, one["thickness_mm"], one.get("place"), one.get("id", ""))
