"""Kept rows → the JSON of people, limbs, sockets and check-ins, for phones and clinic alike."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from plytide.wire import checkin as wire

Row = dict[str, Any]


def checkin(row: Any, writers: Mapping[str, Row]) -> Row:
    """A kept check-in (a row with seq, id, limb_id, body, written_by, received_at, doubt)."""
    unknown: Row = {"device_id": row.written_by, "role": None, "label": None}
    writer = writers.get(row.written_by or "", unknown)
    return {
        "type": "checkin",
        **wire.out(row.id, row.limb_id, row.body),
        "written_by": writer,
        "received_at": row.received_at,
        "seq": row.seq,
        "doubt": row.doubt,
    }


def person(row: Row) -> Row:
    return {
        "type": "person",
        "id": row["id"],
        "name": row["name"],
        "born_on": row["born_on"],
        "tags": row["tags"],
    }


def limb(row: Row) -> Row:
    return {"type": "limb", **row}


def socket(row: Row) -> Row:
    return {"type": "socket", **row}


def suspension(row: Row) -> Row:
    return {"on": row["changed_on"], "suspension": row["suspension"], "by_staff": row["by_staff"]}


def pad(row: Row) -> Row:
    return {"on": row["fitted_on"], **{key: value for key, value in row.items() if key != "fitted_on"}}


def measurement(row: Row) -> Row:
    return {"on": row["measured_on"], **{key: value for key, value in row.items() if key != "measured_on"}}


def intervention(row: Row) -> Row:
    return {"on": row["done_on"], **{key: value for key, value in row.items() if key != "done_on"}}


def visit(row: Row) -> Row:
    return {
        "id": row["id"],
        "person_id": row["person_id"],
        "on": row["visit_on"],
        "time": row["visit_time"],
        "what": row["what"],
        "cancelled": bool(row["cancelled"]),
    }


SAID = {"person": person, "limb": limb, "socket": socket}


def change(kind: str, row: Row) -> Row:
    """A person, limb or socket that changed, with its type."""
    return SAID[kind](row)


def nested_person(row: Row, limbs: list[tuple[Row, list[Row]]]) -> Row:
    """A person with their limbs and each limb's sockets inside."""
    return {
        **person(row),
        "limbs": [{**limb(one), "sockets": [socket(each) for each in sockets]} for one, sockets in limbs],
    }
