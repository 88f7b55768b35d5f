"""What phones are told of: people, limbs and sockets that changed, in the order of their numbers."""

from __future__ import annotations

from collections.abc import Sequence

from sqlite_utils import Database

from plytide.storage import limb, person, socket
from plytide.storage.rows import Row, select


def since(db: Database, person_ids: Sequence[str], seq: int) -> list[tuple[int, str, Row]]:
    """(seq, type, row) of people, limbs and sockets changed after `seq`. Reads only."""
    marks = ", ".join("?" * len(person_ids))
    found: list[tuple[int, str, Row]] = []
    for table, columns, where in (
        ("person", person.COLUMNS, f"id IN ({marks})"),
        ("limb", limb.COLUMNS, f"person_id IN ({marks})"),
        ("socket", socket.COLUMNS, f"limb_id IN (SELECT id FROM limb WHERE person_id IN ({marks}))"),
    ):
        for row in select(db, table, (*columns, "seq"), f"{where} AND seq > ?", (*person_ids, seq)):
            found.append((row.pop("seq"), table, row))
    return sorted(found, key=lambda change: change[0])
