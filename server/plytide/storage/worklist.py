"""The worklist: one page of limbs, most urgent first, from what was assessed. Reads only."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlite_utils import Database

from plytide.model import reading_tags
from plytide.storage import signals
from plytide.storage import visit as visits
from plytide.storage.assessment import COLUMNS as ASSESSMENT


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which limbs are asked for; None: any."""

    state: str | None = None
    level: str | None = None
    clinician_id: str | None = None
    search: str | None = None
    show: str | None = None


EVERYONE = Wanted()


def page(
    db: Database,
    today: str,
    wanted: Wanted = EVERYONE,
    *,
    limit: int,
    after: str | None = None,
) -> tuple[list[dict[str, Any]], str | None]:
    """(rows, where the next page starts). `after` is the mark of the last row seen; ValueError for none of ours."""
    where, args = ["1"], list[Any]()
    if after:
        urgency, since, limb_id = json.loads(after)
        if type(urgency) is not int or abs(urgency) > 9 or not isinstance(since, str) or not isinstance(limb_id, str):
            raise ValueError(after)
        where.append("(-urgency, sort_since, limb_id) > (?, ?, ?)")
        args += [-urgency, since, limb_id]
    for column, value in (
        *(("state", wanted.state), ("limb.level", wanted.level)),
        ("clinician_id", wanted.clinician_id),
    ):
        if value:
            where.append(f"{column} = ?")
            args.append(value)
    if wanted.show == "open":
        where.append("urgency > 0")
    elif wanted.show == "snoozed":
        where.append("EXISTS (SELECT 1 FROM signal WHERE signal.limb_id = limb.id AND status = 'snoozed')")
    if wanted.search:
        where.append("person.name LIKE ? ESCAPE '\\'")
        args.append("%" + wanted.search.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_") + "%")
    beside = ("body", "assessed_at", "why_sentences")
    columns = [f"assessment.{column}" for column in ASSESSMENT.split(", ") if column not in beside]
    rows = db.conn.execute(
        f"SELECT {', '.join(columns)}, side, limb.level, person.id, person.name, born_on, clinician_id,"
        " person.tags, assessment.body -> 'lacks', person.telephones, ask_for, language, own_log, assessment.body -> 'strip'"
        ", assessed_at, (SELECT since FROM stale WHERE stale.limb_id = limb.id), why_sentences"
        " FROM assessment JOIN limb ON limb.id = limb_id JOIN person ON person.id = person_id"
        f" WHERE {' AND '.join(where)} ORDER BY urgency DESC, sort_since, limb_id LIMIT ?",
        (*args, limit + 1),
    ).fetchall()
    day = date.fromisoformat(today)
    found = [
        {
            "limb_id": row[0],
            "assessed_on": row[1],
            "state": row[2],
            "since": row[3],
            "urgency": row[4],
            "sort_since": row[5],
            "why": row[6],
            "spark": json.loads(row[7]),
            "last_checkin": row[8],
            "side": row[9],
            "level": row[10],
            "person": {
                "id": row[11],
                "name": row[12],
                "born_on": row[13],
                "telephones": json.loads(row[17]),
                "ask_for": row[18],
                "language": row[19],
                "own_log": bool(row[20]),
            },
            "clinician": row[14],
            "reading_tags": reading_tags(json.loads(row[15]), date.fromisoformat(row[13]) if row[13] else None, day),
            "lacks": json.loads(row[16]) if row[16] else [],
            "strip": json.loads(row[21]) if row[21] else None,
            "assessed_at": row[22],
            "news_at": row[23],  # what came last and is not in the assessment yet
            "sentences": json.loads(row[24]) if row[24] else [],  # of the reason, as a signal has them
        }
        for row in rows[:limit]
    ]
    open_signals = signals.unclosed(db, [row["limb_id"] for row in found])
    coming = visits.next_of(db, {row["person"]["id"] for row in found}, today)
    for row in found:
        row["signals"] = open_signals[row["limb_id"]]
        visit = coming.get(row["person"]["id"])
        row["next_visit"] = visit["visit_on"] if visit else None
    last = found[-1] if len(rows) > limit else None
    return found, json.dumps([last["urgency"], last["sort_since"], last["limb_id"]]) if last else None


def counts(db: Database) -> dict[str, int]:
    """Limbs by their most urgent unclosed matter. Reads only."""
    by_urgency = dict(db.conn.execute("SELECT urgency, limbs FROM urgency_count").fetchall())
    return {name: by_urgency.get(n, 0) for n, name in ((3, "urgent"), (2, "call"), (1, "note"), (0, "quiet"))}
