"""People ↔ rows."""

from __future__ import annotations

from sqlite_utils import Database

from plytide.storage.rows import Row, select

COLUMNS = (
    "id", "name", "born_on", "tags", "clinician_id", "own_log", "heart_team_phone", "kidney_team_phone",
    "telephones", "ask_for", "language", "record_number", "referrer", "physician", "physician_phone",
)  # fmt: skip


def one(db: Database, person_id: str) -> Row | None:
    rows = select(db, "person", COLUMNS, "id = ?", (person_id,))
    return rows[0] if rows else None


def by_name(db: Database, *, search: str = "", after: str = "", limit: int = 50) -> list[Row]:
    """People by name, a page at a time: `after` is the "name\\x1fid" of the last one seen. Reads only."""
    like = "%" + search.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_") + "%"
    name, _, last_id = after.partition("\x1f")
    return select(
        db,
        "person",
        COLUMNS,
        "name LIKE ? ESCAPE '\\' AND (name, id) > (?, ?) ORDER BY name, id LIMIT ?",
        (like, name, last_id, limit),
    )


def of_clinician(db: Database, staff_id: str) -> list[str]:
    """Ids of the people a member of staff looks after. Reads only."""
    return [row["id"] for row in select(db, "person", COLUMNS, "clinician_id = ? ORDER BY id", (staff_id,))]


def by_record_number(db: Database, record_number: str) -> Row | None:
    """Whoever the clinic's own papers call so, whatever the case and the blanks around it. Reads only."""
    rows = select(db, "person", COLUMNS, "upper(trim(record_number)) = upper(trim(?))", (record_number,))
    return rows[0] if rows else None
