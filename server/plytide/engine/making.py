"""What stands against a socket while it is made, from what is known of the limb and what was found in the room."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from plytide.engine.against import stands_against
from plytide.engine.facts import Facts
from plytide.engine.thresholds import Thresholds
from plytide.model import Reason, Socket

#: Kinds of socket that set warm on the limb itself: common practice for resins, whose makers say how warm.
WARM = ("direct",)
PIN = "pin_lock"


def stops(
    facts: Facts, made: str, suspension: str | None, found: Mapping[str, Any], day: date, thresholds: Thresholds
) -> tuple[Reason, ...]:
    """What stops the making until somebody says why they go on. `found`: what the steps that ask were answered with.

    What was found in the room counts beside what is known: a shape entered as conical and seen bulbous is bulbous, and
    a weight taken today counts before one of last month. The least length for a pin is its maker's, as entered.
    """
    limit, weight = found.get("limit"), found.get("weight")
    socket = Socket(id="", fitted_on=day, made=made, suspension=suspension, weight_limit_kg=limit)
    known = {one.code: one for one in stands_against(facts, socket, day, thresholds)}
    if limit is not None and weight is not None:
        known.pop("weight-over-limit", None)
        if weight > limit:
            text = f"{weight:g} kg, weighed for this socket: more than the limit of {limit:g} kg."
            known["weight-over-limit"] = Reason("weight-over-limit", text)
    if made == "direct" and found.get("shape") == "bulbous":
        text = (
            "Seen in the room: wider below than above. A socket made on the limb would not draw off (common practice)."
        )
        known.setdefault("bulbous", Reason("bulbous", text))
    if found.get("skin") == "open":
        known.setdefault("open-skin", Reason("open-skin", "Open skin was seen in the room."))
    if found.get("scar") == "deep":
        known.setdefault("deep-scar", Reason("deep-scar", "A deep, drawn-in scar was seen in the room."))
    length, least = found.get("length"), found.get("pin_least")
    if suspension == PIN and length is not None and least is not None and length < least:
        text = f"The limb is {length:g} mm long; for this pin its maker wants {least:g} mm."
        known["too-short-for-pin"] = Reason("too-short-for-pin", text)
    if made in WARM and not found.get("heat2"):
        feeling = found.get("feeling")
        if feeling in ("reduced", "none"):
            felt = "felt less" if feeling == "reduced" else "not felt"
            text = f"Warmth is {felt}, and no second check of heat is entered."
            known["no-heat-check"] = Reason("no-heat-check", text)
        elif feeling is None and "reduced_sensation" in facts.history.limb.tags:
            text = "Reduced feeling is entered for this person, and no second check of heat."
            known["no-heat-check"] = Reason("no-heat-check", text)
    return tuple(known.values())
