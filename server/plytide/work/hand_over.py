"""Everything one member of staff looks after goes to another at once: people, and what stands on the list."""

from __future__ import annotations

from datetime import datetime

from sqlite_utils import Database

from plytide.storage import audit, rows, signals, staff
from plytide.storage import person as people
from plytide.work import signal_actions
from plytide.work.refusal import Refusal


def hand_over(db: Database, from_id: str, to_id: str, staff_id: str, now: datetime) -> dict[str, int]:
    """How many people and signals went over, each with an event or a line of its own. Only inside a write transaction.

    Raises Refusal for a colleague who is not there, or is the same.
    """
    if staff.one(db, to_id) is None:
        raise Refusal("to", "Choose a member of staff who works here.")
    if to_id == from_id:
        raise Refusal("to", "Choose somebody else.")
    mine, open_signals = people.of_clinician(db, from_id), signals.assigned_to(db, from_id)
    for person_id in mine:
        rows.change(db, "person", person_id, {"clinician_id": to_id}, now)
        audit.record(db, now, f"staff:{staff_id}", "person.change", person_id, "clinician_id")
    for signal_id in open_signals:
        signal_actions.act(db, signal_id, "assign", {"staff_id": to_id}, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "staff.hand-over", f"staff:{from_id}", f"{len(mine)} people")
    return {"people": len(mine), "signals": len(open_signals)}
