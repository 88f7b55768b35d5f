"""A refused item → what it said of danger is kept all the same, so that the clinic hears of it.

The item stays refused: its words are not an entry. When the phone sends it mended, under the same id, the entry takes
over and this ends; when it says another thing, that counts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from hashlib import sha256
from typing import Any

import orjson
from sqlite_utils import Database

from plytide import model
from plytide.engine import safety
from plytide.engine.thresholds import DEFAULTS
from plytide.storage import assessment as assessments
from plytide.storage import checkin as checkins
from plytide.storage import clinics, unkept
from plytide.storage import history as histories
from plytide.storage.limb import beside
from plytide.wire import unkept as wire
from plytide.work import taken_back

Refused = tuple[dict[str, Any], Any]  # (receipt, item as it came)


def worth_a_look(raw: Any) -> bool:
    """Whether an item may be heard: of whom it speaks is known from its limb, or from whose phone it is."""
    return isinstance(raw, dict)


def whose(raw: Any, limbs: Mapping[str, str | None]) -> str | None:
    """The phone's limb an item is for; where it names none at all, the only one that the phone writes for."""
    given = wire.limb_of(raw)
    if given is None:
        return next(iter(limbs)) if len(limbs) == 1 and isinstance(raw, dict) else None
    return given if given in limbs else None


def hear(
    db: Database, device_id: str, limbs: Mapping[str, str | None], refused: Sequence[Refused], now: datetime
) -> int:
    """Keep the dangers of refused items of this phone's limbs, and say in their receipts that they were heard; how
    many rows were begun or ended.

    Only inside a write transaction.
    """
    own = [(receipt, raw, limb_id) for receipt, raw in refused if (limb_id := whose(raw, limbs))]
    if not own:
        return 0
    written = 0
    named = [id_ for _, raw, _ in own if (id_ := wire.id_of(raw))]
    kept, standing = checkins.already(db, named), unkept.open_of(db, named)
    known: dict[str, model.LimbHistory | None] = {}
    heard: list[unkept.UnkeptRow] = []
    for receipt, raw, limb_id in own:
        id_ = wire.id_of(raw)
        errors = receipt["errors"]
        faults = {} if wire.begun(raw, errors) else errors
        if id_ in kept:
            if wire.begun(raw, errors):
                continue  # what was tapped before the entry was saved, come late
            id_ = None  # another entry has this id
        id_ = id_ or "unkept-" + sha256(orjson.dumps(raw, default=repr, option=orjson.OPT_SORT_KEYS)).hexdigest()[:40]
        before = standing.get(id_) or unkept.open_of(db, [id_]).get(id_)
        if before and (before.limb_id, before.device_id) != (limb_id, device_id):
            continue
        if limb_id not in known:
            known[limb_id] = histories.history(db, limb_id)
        history, body = known[limb_id], wire.said(raw, errors, now)
        row = unkept.UnkeptRow(id_, limb_id, device_id, body or "", faults, now.isoformat()) if body else None
        if row is None or history is None:
            row = None
        elif _dangerous(db, history, row, heard):
            receipt["danger"] = "heard"
        elif not _a_base(history, row):
            row = None
        if row:
            heard.append(row)
        if (before and before.body) == (row and row.body):
            continue
        if before:
            unkept.end(db, [id_], now)
            was = as_heard(before)
            instead = _noun(row) if row else None
            change = (was.checkin, was.faults, instead)
            taken_back.tell(db, limb_id, [change], redness_minutes(db), histories.OF_LATE, now)
        if row:
            unkept.add(db, row)
            standing[id_] = row
        written += 1
        assessments.mark_stale(db, beside(db, {limb_id}), now)
    return written


def mended(db: Database, entry_ids: Sequence[str], now: datetime) -> list[unkept.UnkeptRow]:
    """Entries that are kept now speak for themselves; what was heard of them before.

    Only inside a write transaction.
    """
    if not entry_ids:
        return []
    before = list(unkept.open_of(db, entry_ids).values())
    if before:
        unkept.end(db, [row.entry_id for row in before], now)
    return before


def as_heard(row: unkept.UnkeptRow) -> model.Unkept:
    return wire.noun(row.entry_id, row.limb_id, row.body, row.faults, row.received_at)


def read(raw: Any, errors: dict[str, list[str]], now: datetime) -> model.Unkept | None:
    """What a refused item says of danger, as it would be heard; None for nothing, or for one that names no limb."""
    id_, limb_id, body = wire.id_of(raw), wire.limb_of(raw), wire.said(raw, errors, now)
    faults = {} if wire.begun(raw, errors) else errors
    return wire.noun(id_, limb_id, body, faults, now.isoformat()) if id_ and limb_id and body else None


def _a_base(history: model.LimbHistory, row: unkept.UnkeptRow) -> bool:
    """Whether it holds a weight over which a later one may be a fast gain: the phone counts it too."""
    return "heart_failure" in history.limb.tags and _noun(row).weight_kg is not None


def _noun(row: unkept.UnkeptRow) -> model.CheckIn:
    return wire.noun(row.entry_id, row.limb_id, row.body, row.faults, row.received_at).checkin


def _dangerous(
    db: Database, history: model.LimbHistory, row: unkept.UnkeptRow, heard: Sequence[unkept.UnkeptRow]
) -> bool:
    entry = _noun(row)
    elsewhere = [model.CheckIn("", history.limb.id, day, (), 10, weight_kg=kg) for day, kg in history.weights_elsewhere]
    earlier = [*history.checkins, *elsewhere, *(one.checkin for one in history.unkept), *map(_noun, heard)]
    return bool(safety.advice_for(entry, history.limb, earlier, redness_minutes=redness_minutes(db)))


def redness_minutes(db: Database) -> float:
    """The clinic's limit, or the usual one."""
    own = clinics.clinic_row(db)["settings"].get("thresholds")
    limit = own.get("redness_minutes") if isinstance(own, dict) else None
    return float(limit) if isinstance(limit, int | float) else DEFAULTS.redness_minutes
