"""Who agreed to the safety rules, when, and to which ↔ rows. Append-only; the newest one counts."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlite_utils import Database

COLUMNS = ("physician", "version", "sha256", "by_staff", "agreed_at")


def add(db: Database, physician: str, rules: Mapping[str, Any], sha256: str, staff_id: str, now: datetime) -> None:
    """Keep an agreement with the rules as they were. Only inside a write transaction."""
    content = json.dumps({"danger_signs": rules["danger_signs"], "rules": rules["rules"]}, ensure_ascii=False)
    db.conn.execute(
        "INSERT INTO rules_agreement (physician, version, sha256, rules, by_staff, agreed_at) VALUES (?, ?, ?, ?, ?, ?)",
        (physician, rules["version"], sha256, content, staff_id, now.isoformat()),
    )


def all_of(db: Database) -> list[dict[str, Any]]:
    """Every agreement, newest first, without the rules themselves. Reads only."""
    rows = db.conn.execute(f"SELECT {', '.join(COLUMNS)} FROM rules_agreement ORDER BY n DESC")
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows]


def newest_rules(db: Database) -> dict[str, Any] | None:
    """The rules as they were when somebody last agreed, or None. Reads only."""
    row = db.conn.execute("SELECT rules FROM rules_agreement ORDER BY n DESC LIMIT 1").fetchone()
    return json.loads(row[0]) if row else None


def newest_mark(db: Database) -> str | None:
    """The fingerprint last agreed to, or None. Reads only."""
    row = db.conn.execute("SELECT sha256 FROM rules_agreement ORDER BY n DESC LIMIT 1").fetchone()
    return row[0] if row else None
