"""What the clinic enters, checked for what one field alone can't tell: dates in order, ids that exist."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

from plytide.storage import limb as limbs
from plytide.storage import making, staff
from plytide.storage import person as people
from plytide.storage import socket as sockets
from plytide.storage.rows import Row
from plytide.work.refusal import Missing, Refusal

#: The column of a table that is `on` on the wire.
ON = {"pad": "fitted_on", "measurement": "measured_on", "intervention": "done_on"}
BEFORE_SOCKET = "This day is before the socket was fitted."


def check(db: Database, table: str, values: dict[str, Any], now: datetime) -> None:
    """A row of `table` as it would be, by its columns. Raises Refusal, by the field's name on the wire."""
    today = (now + timedelta(days=1)).date().isoformat()  # somewhere on earth it is already tomorrow
    for field in ("born_on", "amputated_on", "measured_on", "done_on"):
        if values.get(field) and values[field] > today:
            raise Refusal("on" if field in ON.values() else field, "This day has not come yet.")
    if table == "person" and values.get("clinician_id") and staff.one(db, values["clinician_id"]) is None:
        raise Refusal("clinician_id", "There is no such member of staff.")
    if table == "person":
        _check_reach(db, values)
    if table == "socket":
        _check_socket(db, values)
    if table == "pad":
        socket = sockets.one(db, values["socket_id"])
        if socket is None:
            raise Missing(values["socket_id"])
        check_after_fitting(socket, values["fitted_on"])
    if table == "measurement":
        heights = [level["from_end_mm"] for level in values["levels"]]
        if not heights:
            raise Refusal("levels", "At least one level is needed.")
        if len(set(heights)) < len(heights):
            raise Refusal("levels", "Two levels are at the same distance from the end.")


def _check_reach(db: Database, values: dict[str, Any]) -> None:
    numbers = [
        "".join(letter for letter in one["number"] if letter in "+0123456789") for one in values.get("telephones") or ()
    ]
    if len(set(numbers)) < len(numbers):
        raise Refusal("telephones", "The same number stands here twice.")
    if values.get("record_number"):
        other = people.by_record_number(db, values["record_number"])
        if other and other["id"] != values.get("id"):
            raise Refusal("record_number", f"This is already the record number of {other['name']}.")


def _check_socket(db: Database, values: dict[str, Any]) -> None:
    if values.get("retired_on") and values["retired_on"] < values["fitted_on"]:
        raise Refusal("retired_on", "A socket can't be retired before it was fitted.")
    limb = limbs.one(db, values["limb_id"])
    if limb is None:
        raise Missing(values["limb_id"])
    if limb["amputated_on"] and values["fitted_on"] < limb["amputated_on"]:
        raise Refusal("fitted_on", "This day is before the amputation.")


def check_is_one(db: Database, socket: Row) -> None:
    """A socket that was taken out as a mistake is put back with its making, and changed by nothing else.

    Raises Refusal.
    """
    if socket["id"] in making.mistaken(db, socket["limb_id"]):
        raise Refusal("socket", "This socket was taken out as a mistake. Put its making back first.")


def check_after_fitting(socket: Row, on: str) -> None:
    """What is done to a socket is done after it was fitted. Raises Refusal."""
    if on < socket["fitted_on"]:
        raise Refusal("on", BEFORE_SOCKET)
