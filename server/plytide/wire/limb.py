"""A limb."""

from __future__ import annotations

from datetime import date
from typing import Any

from plytide import model
from plytide.wire.fields import Changeable, Choice, Day, Flag, Number


class LimbSchema(Changeable):
    side = Choice(model.SIDES, required=True)
    level = Choice(model.LEVELS, required=True)
    amputated_on = Day(allow_none=True)
    shape = Choice(model.SHAPES, allow_none=True)
    reference_circumference_mm = Number(60, 1200, "mm", allow_none=True)
    deep_scar = Flag(allow_none=True)  # deep and drawn in; null: not entered


def noun(one: dict[str, Any]) -> model.Limb:
    """Of a limb with its person's birthday and tags; what was not entered may be left out."""
    scar, amputated_on, born_on = (one.get(name) for name in ("deep_scar", "amputated_on", "born_on"))
    return model.Limb(
        id=one["id"],
        side=one.get("side", "left"),
        level=one.get("level", "transtibial"),
        amputated_on=date.fromisoformat(amputated_on) if amputated_on else None,
        reference_circumference_mm=one.get("reference_circumference_mm"),
        shape=one.get("shape"),
        born_on=date.fromisoformat(born_on) if born_on else None,
        tags=tuple(one.get("tags") or ()),
        person_id=one.get("person_id", ""),
        deep_scar=None if scar is None else bool(scar),
    )
