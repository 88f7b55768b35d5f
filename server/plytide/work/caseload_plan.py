"""What a row of a caseload would make, held against what is known.

Doubles are found by record number, or by name and birth date; a name alone never joins two people.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage import caseload
from plytide.wire.body import read as checked
from plytide.wire.caseload import Record
from plytide.wire.checkin import Refused
from plytide.wire.fields import Strict
from plytide.wire.limb import LimbSchema
from plytide.wire.measurement import MeasurementSchema
from plytide.wire.person import PersonSchema
from plytide.wire.socket import SocketSchema
from plytide.work.entry_rules import ON, check
from plytide.work.refusal import Refusal

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


def now_known(index: Index, step: Step, ids: dict[str, str]) -> None:
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
