"""What was said of limbs, some days apart ↔ rows. Only added to."""

from __future__ import annotations

from datetime import date

from sqlite_utils import Database

from plytide.model import Said

COLUMNS = "said_on, state, margin_mm, change_low, change_high, coming_low, coming_high"


def _noun(row: tuple[str, str, float, float | None, float | None, float | None, float | None]) -> Said:
    on, state, margin, change_low, change_high, coming_low, coming_high = row
    change = None if change_low is None or change_high is None else (change_low, change_high)
    coming = None if coming_low is None or coming_high is None else (coming_low, coming_high)
    return Said(date.fromisoformat(on), state, margin, change, coming)


def add(db: Database, limb_id: str, said: Said) -> None:
    """Only inside a write transaction."""
    ranges = (*(said.change or (None, None)), *(said.coming or (None, None)))
    db.conn.execute(
        f"INSERT INTO said (limb_id, {COLUMNS}) VALUES ({', '.join('?' * 8)})",
        (limb_id, said.on.isoformat(), said.state, said.margin_mm, *ranges),
    )


def last(db: Database, limb_id: str) -> Said | None:
    """Reads only."""
    row = db.conn.execute(
        f"SELECT {COLUMNS} FROM said WHERE limb_id = ? ORDER BY n DESC LIMIT 1", (limb_id,)
    ).fetchone()
    return _noun(row) if row else None


def of_limb(db: Database, limb_id: str) -> list[Said]:
    """Oldest first. Reads only."""
    return [
        _noun(row) for row in db.conn.execute(f"SELECT {COLUMNS} FROM said WHERE limb_id = ? ORDER BY n", (limb_id,))
    ]
