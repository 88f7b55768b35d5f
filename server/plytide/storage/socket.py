"""Sockets, and suspensions switched on one of them ↔ rows."""

from __future__ import annotations

from sqlite_utils import Database

from plytide.storage.rows import Row, as_known, select

COLUMNS = (
    "id", "limb_id", "fitted_on", "retired_on", "purpose", "made", "material", "suspension", "liner_mm",
    "weight_limit_kg", "stack_at_fitting", "baseline_unsure", "note", "wear_schedule", "trim_lines",
    "liner_size", "liner_profile", "lock_or_valve", "retired_why",
)  # fmt: skip
SUSPENSION = ("id", "socket_id", "changed_on", "suspension", "was", "liner", "by_staff", "created_at")


def one(db: Database, socket_id: str) -> Row | None:
    rows = select(db, "socket", COLUMNS, "id = ?", (socket_id,))
    return rows[0] if rows else None


def of_limb(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """By the day of fitting; with `until`, those entered by that instant, with what was known of each. Reads only."""
    entered = "limb_id = ?1 AND (?2 IS NULL OR created_at < ?2) ORDER BY fitted_on, id"
    found = select(db, "socket", COLUMNS, entered, (limb_id, until))
    known = [as_known(db, "socket", row, until) for row in found]
    return sorted(known, key=lambda row: (row["fitted_on"], row["id"])) if until else known


def suspensions_of(db: Database, limb_id: str) -> list[Row]:
    """Suspensions switched on the same socket, oldest first. Reads only."""
    return select(
        db,
        "suspension",
        SUSPENSION,
        "socket_id IN (SELECT id FROM socket WHERE limb_id = ?) ORDER BY changed_on, created_at",
        (limb_id,),
    )
