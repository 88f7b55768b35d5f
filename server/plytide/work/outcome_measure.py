"""Outcome measures: kept, taken out as a mistake, read with who measured."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage import audit, outcome_measure, staff
from plytide.storage import limb as limbs
from plytide.work.refusal import Missing, Refusal

Row = dict[str, Any]


def add(db: Database, limb_id: str, given: Mapping[str, Any], staff_id: str, now: datetime) -> str:
    """Only inside a write transaction. Raises Refusal by field."""
    if given["on"] > now.date().isoformat():
        raise Refusal("on", "This day has not come yet.")
    limb = limbs.one(db, limb_id) or {}
    if limb.get("amputated_on") and given["on"] < limb["amputated_on"]:
        raise Refusal("on", "This day is before the amputation.")
    values = {name: given.get(name) for name in ("kind", "value", "distance_m")}
    values |= {name: (given.get(name) or "").strip() or None for name in ("device", "note")}
    row_id = outcome_measure.add(db, values | {"limb_id": limb_id, "measured_on": given["on"]}, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "outcome-measure.add", f"limb:{limb_id}", row_id)
    return row_id


def take_out(db: Database, outcome_measure_id: str, staff_id: str, now: datetime) -> str:
    """A mistake: it stays in the file, and stands no more. Only inside a write transaction. Raises Missing."""
    row = outcome_measure.one(db, outcome_measure_id)
    if row is None:
        raise Missing(outcome_measure_id)
    values = {"limb_id": row["limb_id"], "kind": "void", "of": outcome_measure_id, "measured_on": row["measured_on"]}
    outcome_measure.add(db, values, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "outcome-measure.void", f"limb:{row['limb_id']}", outcome_measure_id)
    return str(row["limb_id"])


def for_staff(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """Those that stand, by day, each with who measured. Reads only."""
    names = staff.names(db)
    return [
        {name: one[name] for name in ("id", "kind", "value", "distance_m", "device", "note")}
        | {"on": one["measured_on"], "at": one["created_at"], "by": names.get(one["by_staff"], one["by_staff"])}
        for one in outcome_measure.of_limb(db, limb_id, until)
    ]
