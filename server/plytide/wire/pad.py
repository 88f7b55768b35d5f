"""A pad or a half sock in a socket, and another in its place."""

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
    # A half sock: how much of the limb it covers, from the end up. None: a pad.
    half_sock_pct = Number(10, 90, "%", allow_none=True)


class PadCorrectionSchema(PadSchema):
    reason = Text(most=400, least=0, allow_none=True)


def noun(one: dict[str, Any]) -> model.Pad:
    """A half sock counts by its share: over the whole limb it fills as much as a sock so much thinner (judgement)."""
    on, share = date.fromisoformat(one["on"]), one.get("half_sock_pct")
    counted = one["thickness_mm"] * (share / 100 if share else 1)
    return model.Pad(one["socket_id"], on, counted, one.get("place"), one.get("id", ""))
