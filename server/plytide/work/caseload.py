"""A caseload: what a file's rows would make, and making it a portion at a time.

The look before and the bringing itself are one plan over one index of what is known, so that they can't differ. Doubles
are found by record number, or by name and birth date; a name alone never joins two people.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.engine.staff_words import LEVEL
from plytide.storage import assessment as assessments
from plytide.storage import audit, caseload, despite, rows
from plytide.storage import device as devices
from plytide.storage.rows import Row
from plytide.storage.sqlite import read, write
from plytide.wire import caseload_csv, caseload_fhir
from plytide.wire.body import read as checked
from plytide.wire.caseload import PART_BYTES, Record
from plytide.wire.caseload_csv import Unread
from plytide.wire.checkin import Refused
from plytide.wire.fields import Strict
from plytide.wire.limb import LimbSchema
from plytide.wire.measurement import MeasurementSchema
from plytide.wire.person import PersonSchema
from plytide.wire.socket import SocketSchema
from plytide.work import despite as despite_rules
from plytide.work.entry_rules import ON, check
from plytide.work.refusal import Missing, Refusal

PORTION = 250  # rows a transaction: phones that sync meanwhile wait for one portion at most
MOST_FAULTS = 500
WHY = "As the clinic's own records had it when its caseload was brought."
NOT_ASKED = "Not asked: imported, row {n} of the file."
SCHEMAS: dict[str, Strict] = {
    "person": PersonSchema(),
    "limb": LimbSchema(),
    "socket": SocketSchema(),
    "measurement": MeasurementSchema(),
}

Raw = tuple[int, Record, str | None, dict[str, str]]  # line or number, values, name in the file, faults by place


@dataclass(slots=True)
class Step:
    """One noun of a row: made, or already here."""

    kind: str
    key: Any
    values: dict[str, Any]
    made: bool
    row_id: Any = None  # an id, or what stands for a row to come
    source: str | None = None


@dataclass(slots=True)
class Planned:
    n: int
    steps: list[Step] = field(default_factory=list)
    faults: dict[str, str] = field(default_factory=dict)
    person: str = ""
    same_name: bool = False


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()


class Index:
    """Who and what is known, with what the rows before would make: keys are ids, or stand for rows to come."""

    def __init__(self, db: Database) -> None:
        self.people: dict[Any, dict[str, Any]] = {}
        self.by_number: dict[str, Any] = {}
        self.by_birth: dict[tuple[str, str], list[Any]] = {}
        self.names: set[str] = set()
        self.by_source = caseload.sources(db)
        for row in caseload.people_known(db):
            self.add_person(row["id"], row, None)
            self.by_source.setdefault(row["id"], row["id"])
        self.limbs = {(who, side, level): (id_, cut) for id_, who, side, level, cut in caseload.limbs_known(db)}
        self.sockets: dict[tuple[Any, str], Any] = {
            (limb, fitted): id_ for id_, limb, fitted in caseload.sockets_known(db)
        }
        self.tapes = {self.tape_key(*row) for row in caseload.measurements_known(db)}

    def add_person(self, key: Any, values: dict[str, Any], source: str | None) -> None:
        self.people[key] = values
        name = _plain(values["name"])
        self.names.add(name)
        if values.get("record_number"):
            self.by_number[values["record_number"].strip().upper()] = key
        if values.get("born_on"):
            self.by_birth.setdefault((name, values["born_on"]), []).append(key)
        if source:
            self.by_source[source] = key

    @staticmethod
    def tape_key(limb: Any, on: str, levels: list[dict[str, Any]]) -> Any:
        return limb, on, tuple(sorted((one["from_end_mm"], one["circumference_mm"]) for one in levels))

    def person(self, values: dict[str, Any], source: str | None) -> Any:
        """Whose row it is; None: somebody new. Raises Refusal where two things said of them disagree."""
        number, born = (values.get("record_number") or "").strip().upper(), values.get("born_on")
        found = self.by_source.get(source) if source else None
        if found is None and number:
            found = self.by_number.get(number)
        if found is not None and found in self.people:
            known = self.people[found]
            if _plain(known["name"]) != _plain(values["name"]):
                words = f"This is already the record number of {known['name']}."
                raise Refusal("record_number" if number else "name", words)
            if born and known.get("born_on") and born != known["born_on"]:
                raise Refusal("born_on", f"{known['name']} is here with another birth date.")
            return found
        same = self.by_birth.get((_plain(values["name"]), born), []) if born else []
        same = [key for key in same if not number or not self.people[key].get("record_number")]
        if len(same) > 1:
            raise Refusal("name", "More than one person here has this name and birth date. Give the record number.")
        if not same and not number and not born and not source:
            raise Refusal("born_on", "A birth date or a record number is needed: one name can be two people.")
        return same[0] if same else None


def _checked(kind: str, values: dict[str, Any]) -> dict[str, Any]:
    item = checked(SCHEMAS[kind], values)
    renamed = {"on": ON.get(kind, "on")}
    return {renamed.get(name, name): int(one) if isinstance(one, bool) else one for name, one in item.items()}


def plan(db: Database, index: Index, raw: Raw, now: datetime) -> Planned:
    """What one row makes; the index then knows it. A row with a fault makes nothing at all. Reads only."""
    n, record, source, faults = raw
    planned = Planned(n, faults=dict(faults), person=str(record.get("person", {}).get("name", "")))
    if faults:
        return planned
    try:
        planned.steps = list(_steps(db, index, n, record, source, now))
    except Refused as refused:
        planned.faults = {name: " ".join(words) for name, words in refused.errors.items()}
    except Refusal as refusal:
        planned.faults = {refusal.field: refusal.words}
    if planned.faults:
        return planned
    first = planned.steps[0]
    planned.same_name = first.made and _plain(first.values["name"]) in index.names
    for step in planned.steps:
        if step.made:
            _learn(index, step)
    return planned


def _learn(index: Index, step: Step) -> None:
    if step.kind == "person":
        index.add_person(step.key, step.values, step.source)
    elif step.kind == "limb":
        index.limbs[step.key] = (step.row_id or step.key, step.values.get("amputated_on"))
    elif step.kind == "socket":
        index.sockets[step.key] = step.row_id or step.key
    else:
        index.tapes.add(step.key)


def _steps(db: Database, index: Index, n: int, record: Record, source: str | None, now: datetime) -> Iterator[Step]:
    values = _checked("person", record.get("person", {}))
    who = index.person(values, source)
    made = who is None
    if made:
        check(db, "person", values | {"record_number": None}, now)  # the index knows the numbers, without a scan
        who = ("row", n)
    yield Step("person", who, values, made, None if made else who, source)
    if "limb" not in record:
        for kind in ("socket", "measurement"):
            if kind in record:
                raise Refusal("side", "Side and level of the limb are needed for this.")
        return
    values = _checked("limb", record["limb"])
    check(db, "limb", values, now)
    key = (who, values["side"], values["level"])
    known = index.limbs.get(key)
    limb, cut = known or (key, values.get("amputated_on"))
    yield Step("limb", key, values, known is None, limb if known else None)
    if "socket" in record:
        values = _checked("socket", record["socket"])
        if values.get("retired_on") and values["retired_on"] < values["fitted_on"]:
            raise Refusal("retired_on", "A socket can't be retired before it was fitted.")
        if cut and values["fitted_on"] < cut:
            raise Refusal("fitted_on", "This day is before the amputation.")
        yield Step("socket", (limb, values["fitted_on"]), values, (limb, values["fitted_on"]) not in index.sockets)
    if "measurement" in record:
        values = _checked("measurement", record["measurement"])
        check(db, "measurement", values, now)
        tape = index.tape_key(limb, values["measured_on"], values["levels"])
        yield Step("measurement", tape, values, tape not in index.tapes)


# The file.


def seen(db: Database, caseload_id: str) -> Row:
    """Raises Missing."""
    row = caseload.one(db, caseload_id)
    if row is None:
        raise Missing(caseload_id)
    return row


def whole(db: Database, row: Row) -> bytes:
    """The file, all of it. Raises Refusal where parts are missing."""
    data = caseload.body(db, row["id"])
    if len(data) != row["size"]:
        words = f"{len(data)} of {row['size']} bytes have come. Send the file again."
        raise Refusal("file", words if not row["brought_at"] else "This file has been brought already.")
    return data


def take_part(db: Database, row: Row, n: int, body: bytes) -> None:
    """Raises Refusal."""
    if row["done_to"] or row["brought_at"]:
        raise Refusal("content", "This file is being brought, or has been.")
    if len(body) > PART_BYTES or n * PART_BYTES >= row["size"]:
        raise Refusal("content", "This is more than the file was said to hold.")
    with write(db):
        caseload.add_part(db, row["id"], n, body)


def look(db: Database, row: Row) -> dict[str, Any]:
    """What the file is, and what has to be asked about it before it can be brought. Raises Refusal."""
    data = whole(db, row)
    digest = hashlib.sha256(data).hexdigest()
    if row["sha256"] != digest:
        with write(db):
            caseload.change(db, row["id"], sha256=digest)
    twice = caseload.same_file(db, {**row, "sha256": digest})
    found: dict[str, Any] = {
        "brought_before": {"on": twice["brought_at"][:10], "by": twice["by_staff"]} if twice else None
    }
    choices = row["choices"]
    if row["kind"] == "fhir":
        rows, left_out = _unread(lambda: caseload_fhir.records(data, LEVEL))
        return found | {"rows": len(rows), "left_out": left_out, "asks": []}
    if caseload_csv.encoding_of(data) is None and not choices.get("encoding"):
        return found | {"asks": ["encoding"], "encodings": caseload_csv.samples(data)}
    sheet = _unread(lambda: caseload_csv.read(data, choices.get("encoding")))
    columns = caseload_csv.likely(sheet.heading, caseload.remembered(db)) | choices.get("columns", {})
    undated = caseload_csv.undated(sheet, columns)
    asks = ["date_order"] if undated and not choices.get("date_order") else []
    return found | {
        "rows": len(sheet.rows),
        "cut": sheet.cut,
        "heading": sheet.heading,
        "first": [cells for _, cells in sheet.rows[:3]],
        "columns": columns,
        "dates": undated,
        "asks": asks + ([] if any(choices.get("columns", {}).values()) else ["columns"]),
    }


def _unread(act: Any) -> Any:
    try:
        return act()
    except Unread as error:
        raise Refusal(error.field, error.words) from None


def choose(db: Database, row: Row, given: dict[str, Any], staff_id: str, now: datetime) -> None:
    """Keep what the clinic said about the file; what it said about a heading is remembered. Raises Refusal."""
    if row["done_to"]:
        raise Refusal("columns", "Rows of this file have been brought already.")
    with write(db):
        caseload.change(db, row["id"], choices=row["choices"] | given)
        caseload.remember(db, {name: match for name, match in (given.get("columns") or {}).items() if match})
        audit.record(db, now, f"staff:{staff_id}", "caseload.choose", f"caseload:{row['id']}", ",".join(sorted(given)))


def raws(db: Database, row: Row, start: int = 0, stop: int | None = None) -> tuple[list[Raw], int]:
    """Rows of the file by their numbers, and how many there are. Raises Refusal for what has to be said first."""
    data, choices = whole(db, row), row["choices"]
    if row["kind"] == "fhir":
        found, _ = _unread(lambda: caseload_fhir.records(data, LEVEL))
        return [(i, *one) for i, one in enumerate(found, 1)][start:stop], len(found)
    sheet = _unread(lambda: caseload_csv.read(data, choices.get("encoding")))
    columns, order = choices.get("columns") or {}, choices.get("date_order")
    if not any((match or {}).get("field") == "name" for match in columns.values()):
        raise Refusal("columns", "Say which column holds the name.")
    singles = [m["field"] for m in columns.values() if m and m["field"] != "circumference"]
    if len(set(singles)) < len(singles):
        raise Refusal("columns", "Two columns are matched with the same field.")
    if order is None and caseload_csv.undated(sheet, columns):
        raise Refusal("date_order", "Say in which order the dates are written.")
    made: list[Raw] = []
    for n, cells in sheet.rows[start:stop]:
        record, faults = caseload_csv.record(sheet, cells, columns, order)
        made.append((n, record, None, faults))
    total = len(sheet.rows) + sheet.cut
    if sheet.cut and (stop is None or stop >= total):
        last = sheet.rows[-1][0] if sheet.rows else 1
        made.append((last + 1, {}, None, {"row": caseload_csv.CUT}))
    return made, total


def to_json(planned: Planned) -> dict[str, Any]:
    return {
        "n": planned.n,
        "person": planned.person,
        "makes": [step.kind for step in planned.steps if step.made],
        "already": [step.kind for step in planned.steps if not step.made],
        "same_name": planned.same_name,
        "faults": planned.faults,
    }


def rehearse(db: Database, row: Row, now: datetime) -> list[Planned]:
    """What each row would make, from the first: nothing is written."""
    with read(db):
        index = Index(db)
        return [plan(db, index, raw, now) for raw in raws(db, row)[0]]


# Bringing.


def bring(db: Database, row: Row, done_to: int, staff_id: str, now: datetime) -> dict[str, Any]:
    """The next portion, in one transaction; asked for again, it is not made twice. Raises Refusal."""
    if row["brought_at"] or done_to != row["done_to"]:
        return progress(db, row)
    sha256 = row["sha256"] or hashlib.sha256(whole(db, row)).hexdigest()
    part, total = raws(db, row, done_to, done_to + PORTION)
    with write(db):
        row = seen(db, row["id"])
        if row["done_to"] != done_to or row["brought_at"]:
            return progress(db, row)
        index = Index(db)
        faults = list(row["faults"])
        for raw in part:
            planned = plan_kept(db, index, raw, row["id"], staff_id, now)
            if planned.faults:
                faults.append({"n": planned.n, "faults": _without_names(planned.faults)})
        to = done_to + len(part)
        values: dict[str, Any] = {"done_to": to, "rows": total, "faults": faults}
        values["sha256"] = sha256
        if to >= total:
            values["brought_at"] = now.isoformat()
            caseload.drop_parts(db, row["id"])
        caseload.change(db, row["id"], **values)
        audit.record(db, now, f"staff:{staff_id}", "caseload.bring", f"caseload:{row['id']}", f"rows to {to}")
    return progress(db, seen(db, row["id"]))


def _without_names(faults: dict[str, str]) -> dict[str, str]:
    """What is kept with the import outlives an erasure, so it names nobody."""
    return {
        place: "This record number is another person's." if place == "record_number" and "already" in words
        else "This person is here with another birth date." if words.endswith("with another birth date.") else words
        for place, words in faults.items()
    }  # fmt: skip


def plan_kept(db: Database, index: Index, raw: Raw, caseload_id: str, staff_id: str, now: datetime) -> Planned:
    """Plan a row and make what it says. Only inside a write transaction."""
    planned = plan(db, index, raw, now)
    n = planned.n
    if planned.faults:
        return planned
    ids: dict[str, str] = {}
    socket: dict[str, Any] | None = None
    for step in planned.steps:
        if not step.made:
            ids[step.kind] = step.row_id or ""
            continue
        values = dict(step.values)
        if step.kind == "limb":
            values["person_id"] = ids["person"]
        elif step.kind != "person":
            values["limb_id"] = ids["limb"]
        ids[step.kind] = rows.add(db, step.kind, values, now)
        if step.kind == "socket":
            socket = values
        caseload.made(db, caseload_id, n, step.kind, ids[step.kind], ids["person"], step.source)
        _now_known(index, step, ids)
    if socket is not None:  # once all of the row is there: its weight may be over the socket's limit
        against = despite_rules.found(db, ids["limb"], socket, now.date())
        why = f"{WHY} {NOT_ASKED.format(n=n)}" if against else WHY
        despite.add(db, ids["socket"], against, why, staff_id, now)
    if "limb" in ids and any(step.made for step in planned.steps):
        assessments.mark_stale(db, [ids["limb"]], now)
    return planned


def _now_known(index: Index, step: Step, ids: dict[str, str]) -> None:
    """What stood for a row to come has its id now."""
    id_ = ids[step.kind]
    if step.kind == "person":
        index.add_person(id_, step.values, step.source)
        del index.people[step.key]
        pair = (_plain(step.values["name"]), step.values.get("born_on") or "")
        index.by_birth[pair] = [key for key in index.by_birth.get(pair, []) if key != step.key]
    elif step.kind == "limb":
        index.limbs[(ids["person"], *step.key[1:])] = (id_, step.values.get("amputated_on"))
    elif step.kind == "socket":
        index.sockets[(ids["limb"], step.key[1])] = id_
    else:
        index.tapes.add((ids["limb"], *step.key[1:]))


def progress(db: Database, row: Row) -> dict[str, Any]:
    made = caseload.made_counts(db, row["id"])
    return {name: row[name] for name in ("id", "name", "kind", "rows", "done_to", "faults", "created_at", "brought_at",
                                         "undone_at", "by_staff")} | {"made": made}  # fmt: skip


def codes(
    db: Database, row: Row, after: int, role: str, staff_id: str, now: datetime, most: int
) -> tuple[list[tuple[str, str, str]], int | None]:
    """(person, name, enrolment) of the next people an import made who have no phone yet; and where to go on."""
    with write(db):
        found = caseload.people_made(db, row["id"], after, most)
        made = [
            (person_id, name, devices.add_enrolment(db, role, [person_id], staff_id, now))
            for _, person_id, name in found
            if devices.first_joined(db, person_id) is None
        ]
        for person_id, _, _ in made:
            audit.record(db, now, f"staff:{staff_id}", "enrolment.add", person_id, f"caseload:{row['id']}")
    return made, found[-1][0] if len(found) == most else None
