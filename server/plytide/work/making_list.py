"""The steps by which a clinic makes sockets: its own list, in versions, or the one it begins with."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide import model
from plytide.storage import audit, making, staff
from plytide.work import making_steps
from plytide.work.refusal import Missing, Refusal

Row = dict[str, Any]


def list_of(db: Database, made: str) -> Row:
    """The steps that count today, whose they are and since when; with every version. Reads only."""
    names, versions = staff.names(db), making.lists(db, made)
    newest = versions[0] if versions else None
    own = newest is not None and newest["list"] is not None
    content = newest["list"] if newest and own else making_steps.ours(made)
    return {
        "made": made,
        "own": own,
        "n": newest["n"] if newest and own else 0,
        **content,
        "stops": sorted(making_steps.kept(made)),
        "versions": [
            {"n": one["n"], "by": names.get(one["by_staff"], ""), "at": one["created_at"], "list": one["list"]}
            for one in versions
        ],
    }


def keep_list(db: Database, made: str, given: Row, staff_id: str, now: datetime) -> None:
    """Only inside a write transaction. Raises Missing, Refusal."""
    if made not in model.MADE:
        raise Missing(made)
    steps = given["steps"]
    content = None
    if steps is not None:
        codes, ours = {one.get("code") for one in steps}, making_steps.ours(made)["steps"]
        lacks = next((one for one in ours if one["code"] in making_steps.kept(made) - codes), None)
        if lacks is not None:
            words = f"“{lacks['text']}” can be reworded and moved, and not taken out: its answer can stop the making."
            raise Refusal("steps", words)
        before = {one["code"]: one["phase"] for one in ours}
        late = next(
            (one for one in steps if one.get("code") in making_steps.kept(made) and one["phase"] != "before"), None
        )
        if late is not None and before[late["code"]] == "before":
            raise Refusal("steps", f"“{late['text']}” has to stay before the making: its answer can stop it.")
        known = {one.get("code") for one in steps} | set(before)
        fresh = (f"own-{n}" for n in range(1, 1000) if f"own-{n}" not in known)
        content = {
            "steps": [
                {"code": one.get("code") or next(fresh), "phase": one["phase"], "text": one["text"].strip()}
                for one in steps
            ],
            "instructions": (given.get("instructions") or "").strip(),
            "url": (given.get("url") or "").strip() or None,
            "pin_least_mm": given.get("pin_least_mm"),
            "limit_kg": given.get("limit_kg"),
            "bring": (given.get("bring") or "").strip(),
            "wear": given.get("wear") or [],
        }
    making.keep_list(db, made, content, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "making-list.change", "clinic", made)
