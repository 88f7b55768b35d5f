"""Kept rows → the JSON of people, limbs, sockets and check-ins, for phones and clinic alike."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from plytide.model import Profile
from plytide.wire import checkin as wire

Row = dict[str, Any]
CONTACTS = ("heart_team_phone", "kidney_team_phone")  # whom a person calls beside the clinic
#: How the clinic reaches a person, and who else is at it.
REACH = ("telephones", "ask_for", "language", "record_number", "referrer", "physician", "physician_phone")


def checkin(row: Any, writers: Mapping[str, Row], proof: str | None = None) -> Row:
    """A kept check-in (a row with seq, id, limb_id, body, written_by, received_at, doubt), with who wrote it proved."""
    unknown: Row = {"device_id": row.written_by, "role": None, "label": None}
    writer = writers.get(row.written_by or "", unknown)
    return {
        "type": "checkin",
        **wire.out(row.id, row.limb_id, row.body),
        "written_by": writer,
        **({"proof": proof} if proof else {}),
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
        "contacts": {name: row[name] for name in CONTACTS},
    }


def profile(past: Profile) -> Row:
    """What a phone went by until an instant: its own advice of older entries is read by it."""
    born = past.born_on.isoformat() if past.born_on else None
    return {"until": past.until, "tags": past.tags, "born_on": born, "redness_minutes": past.redness_minutes}


def limb(row: Row) -> Row:
    scar = row["deep_scar"]
    return {"type": "limb", **row, "deep_scar": None if scar is None else bool(scar)}


def socket(row: Row) -> Row:
    """Why it was retired is the clinic's own record, and is told to no phone."""
    told = {name: value for name, value in row.items() if name != "retired_why"}
    return {"type": "socket", **told, "baseline_unsure": bool(row["baseline_unsure"])}


def suspension(row: Row) -> Row:
    shown = {name: row[name] for name in ("suspension", "was", "liner", "by_staff")}
    return {"on": row["changed_on"], **shown}


def pad(row: Row) -> Row:
    return {"on": row["fitted_on"], **{key: value for key, value in row.items() if key != "fitted_on"}}


def measurement(row: Row) -> Row:
    return {"on": row["measured_on"], **{key: value for key, value in row.items() if key != "measured_on"}}


def intervention(row: Row) -> Row:
    return {"on": row["done_on"], **{key: value for key, value in row.items() if key != "done_on"}}


def reach(row: Row) -> Row:
    """How staff reach a person and what the clinic's papers say: never for a phone."""
    return {name: row[name] for name in REACH}


TO_JSON = {"person": person, "limb": limb, "socket": socket}


def change(kind: str, row: Row) -> Row:
    """A person, limb or socket that changed, with its type."""
    return TO_JSON[kind](row)


def nested_person(row: Row, limbs: list[tuple[Row, list[Row]]]) -> Row:
    """A person with their limbs and each limb's sockets inside."""
    return {
        **person(row),
        "limbs": [{**limb(one), "sockets": [socket(each) for each in sockets]} for one, sockets in limbs],
    }
