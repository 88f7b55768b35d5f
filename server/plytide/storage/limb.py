"""Limbs ↔ rows."""

from __future__ import annotations

from collections.abc import Collection

from sqlite_utils import Database

from plytide.storage.rows import Row, select

COLUMNS = ("id", "person_id", "side", "level", "amputated_on", "shape", "reference_circumference_mm", "deep_scar")


def one(db: Database, limb_id: str) -> Row | None:
    rows = select(db, "limb", COLUMNS, "id = ?", (limb_id,))
    return rows[0] if rows else None


def of_person(db: Database, person_id: str) -> list[Row]:
    return select(db, "limb", COLUMNS, "person_id = ? ORDER BY created_at, id", (person_id,))


def beside(db: Database, limb_ids: Collection[str]) -> set[str]:
    """These limbs and the others of the same people: what is known of a person counts for each."""
    marks = ", ".join("?" * len(limb_ids))
    query = f"SELECT id FROM limb WHERE person_id IN (SELECT person_id FROM limb WHERE id IN ({marks}))"
    return {row[0] for row in db.conn.execute(query, tuple(limb_ids))}
