"""The pocket plan: written and taken back by the clinic, version after version; which phone may see it.

Only the clinic's own words, and never instead of a safety rule: where advice stands, the phone hides it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage import audit, pocket, staff
from plytide.storage.device import Device
from plytide.storage.pocket import PARTS
from plytide.work.message import reaches
from plytide.work.refusal import Refusal

Row = dict[str, Any]

NOTHING: Row = dict.fromkeys(PARTS) | {"to": None}


def _plan(version: Mapping[str, Any] | None) -> Row | None:
    """A version as it is shown; None where nothing is written or the plan was taken back."""
    if version is None or not any(version[part] for part in PARTS):
        return None
    return {part: version[part] for part in PARTS} | {"to": version["for_role"], "at": version["created_at"]}


def current(db: Database, limb_id: str) -> Row:
    """What stands in a limb's plan, for a form. Reads only."""
    return NOTHING | (_plan(pocket.newest(db, [limb_id]).get(limb_id)) or {})


def write(db: Database, limb_id: str, given: Mapping[str, Any], staff_id: str, now: datetime) -> str:
    """A new version, with what was not given as it stood. Only inside a write transaction. Raises Refusal."""
    then = current(db, limb_id) | dict(given)
    values = {part: (then[part] or "").strip() or None for part in PARTS}
    if not any(values.values()):
        raise Refusal("loose", "Write something first. To end the plan, take it back.")
    version = pocket.add(db, {"limb_id": limb_id, **values, "for_role": then["to"]}, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "pocket.write", f"limb:{limb_id}", version)
    return version


def rewritten(db: Database, limb_id: str, version: str | None) -> bool:
    """Whether another plan than this version stands; none is no matter. Reads only."""
    newest = pocket.newest(db, [limb_id]).get(limb_id)
    return bool(version) and newest is not None and _plan(newest) is not None and newest["id"] != version


def take_back(db: Database, limb_id: str, staff_id: str, now: datetime) -> None:
    """No plan stands from now on; what did stays to be read. Only inside a write transaction."""
    if _plan(pocket.newest(db, [limb_id]).get(limb_id)) is None:
        return
    version = pocket.add(db, {"limb_id": limb_id}, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "pocket.take-back", f"limb:{limb_id}", version)


def for_phone(db: Database, device: Device, person: Mapping[str, Any], limb_ids: Iterable[str]) -> dict[str, Row]:
    """limb id → the plan this phone may see. Who writes alone reads it alone, unless staff said otherwise."""
    names, found = staff.names(db), {}
    for limb_id, version in pocket.newest(db, limb_ids).items():
        plan = _plan(version)
        if plan and reaches(device.role, plan.pop("to") or ("wearer" if person["own_log"] else "all")):
            found[limb_id] = plan | {"by": names.get(version["by_staff"], "")}
    return found


def for_staff(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """Every version, newest first, each with who wrote it and when; one taken back has no parts. Reads only."""
    names = staff.names(db)
    return [
        (_plan(one) or {**NOTHING, "at": one["created_at"]})
        | {"version": one["id"], "by": names.get(one["by_staff"], one["by_staff"])}
        for one in pocket.of_limb(db, limb_id, until)
    ]
