"""A batch from a phone → a receipt per id, and what changed since the phone's cursor.

One transaction per call. A receipt says "kept" only after that transaction is on the disk.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import orjson
from sqlite_utils import Database

from plytide.engine import safety
from plytide.engine.series import replaced
from plytide.model import LimbHistory, Unkept
from plytide.storage import assessment as assessments
from plytide.storage import audit, changes, clinics, ids
from plytide.storage import checkin as checkins
from plytide.storage import device as devices
from plytide.storage import history as histories
from plytide.storage.device import Device
from plytide.storage.limb import beside
from plytide.storage.sqlite import read, write
from plytide.wire import checkin as wire
from plytide.wire import nouns
from plytide.wire.checkin import Offer
from plytide.wire.fields import plain_order
from plytide.work import at_once, authorship, message, taken_back, unkept

SKEW_WORTH_KEEPING = 60
UNSEALED_EVERY = timedelta(days=1)  # judgement

Receipt = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where a phone stands: the feed's epoch and the sequence number it has read up to.

    Also how far the feed went when the phone was told, and a fingerprint of the feed up to there: a receipt may
    be ahead of what the phone has read. The seal says that it is ours; cursors from before there were seals have none.
    """

    epoch: str
    seq: int
    head: int
    mark: str
    seal: str = ""

    def __str__(self) -> str:
        return f"{self.said}.{self.seal}"

    @property
    def said(self) -> str:
        return f"{self.epoch}.{self.seq}.{self.head}.{self.mark}"


def read_cursor(text: str | None) -> Cursor | None:
    """A cursor as the phone gave it; None for a phone that starts, or for one that makes no sense."""
    parts = (text or "").split(".")
    if len(parts) not in (4, 5) or not all(
        part.isascii() and part.isdigit() and len(part) <= 18 for part in parts[1:3]
    ):
        return None
    return Cursor(parts[0], int(parts[1]), int(parts[2]), *parts[3:])


def exchange(
    db: Database,
    device: Device,
    raw_items: list[Any],
    cursor: Cursor | None,
    now: datetime,
    skew_seconds: int | None,
    limit: int,
    raw_answers: Sequence[Any] = (),
    broken: Mapping[int, dict[str, list[str]]] | None = None,
) -> dict[str, Any]:
    """Receipts in the order of the items, then epoch, new cursor, changes and whether more wait.

    Durable when it returns. A cursor of another epoch starts from the beginning; the items are kept all the same.
    `broken`: by number of the item, the fields of it that could not be read at all.
    """
    receipts, offered = _checked(raw_items, broken or {})
    faulty = any(
        receipt["errors"] and unkept.worth_a_look(raw) for receipt, raw in zip(receipts, raw_items, strict=True)
    )
    if _forked(db, cursor) and not _believed(db, cursor, now):
        cursor = None
    writes = bool(offered) or faulty or bool(raw_answers) or _forked(db, cursor)
    view: AbstractContextManager[Database] = write(db) if writes else read(db)
    with view:
        if writes and _forked(db, cursor):
            # The file is an older or a forked copy. `plytide restore` begins a new epoch by itself; this finds
            # copies put back by hand.
            clinics.new_epoch(db)
            audit.record(db, now, "server", "feed.epoch", "feed")
        limbs = devices.limb_ids(db, device.id)
        new = _taken(db, device, limbs, offered, now, skew_seconds) if offered else []
        last = checkins.keep(db, new, device.id, now) if new else None
        told = _hear(db, device, limbs, receipts, raw_items, now) if writes else 0
        items = zip(receipts, raw_items, strict=True)
        heard = {limb_id for receipt, raw in items if "danger" in receipt and (limb_id := unkept.whose(raw, limbs))}
        at_once.tell(db, new, heard, now)
        answered = message.keep_answers(db, device, raw_answers, now)
        epoch, head = clinics.feed(db)
        start = cursor.seq if cursor and cursor.epoch == epoch else 0
        found, more = _changes(db, device, list(limbs), start, limit) if start < head else ([], False)
        writers = devices.writers(db, device.person_ids) if found else {}
        key = clinics.authorship_key(db)
        if writes and (last or found or told or answered):
            _record(db, device, now, [*receipts, *answered], len(found), last, told)
        # After the line of this call: the mark covers it.
        there = Cursor(epoch, found[-1][0] if more else head, head, audit.mark(db, head))
        there = replace(there, seal=authorship.seal(key, there.said))
    if not writes and found:
        with write(db):
            _record(db, device, now, receipts, len(found), None)
    return {
        "epoch": epoch,
        "cursor": str(there),
        "receipts": receipts,
        **({"answer_receipts": answered} if raw_answers else {}),
        "changes": [
            nouns.checkin(row, writers, _proof(key, row, device)) if kind == "checkin" else nouns.change(kind, row)
            for _, kind, row in found
        ],
        "more": more,
    }


def _proof(key: bytes, row: checkins.CheckInRow, device: Device) -> str | None:
    """What a phone needs to offer another's check-in again as another's."""
    if row.written_by in (None, device.id):
        return None
    return authorship.proof(key, row.id, row.limb_id, row.body, str(row.written_by))


def _record(
    db: Database,
    device: Device,
    now: datetime,
    receipts: list[Receipt],
    read_too: int,
    last: int | None,
    told: int = 0,
) -> None:
    kept = sum(receipt["status"] == "kept" for receipt in receipts)
    what = f"kept {kept}, read {read_too}" + (f", dangers of entries not kept {told}" if told else "")
    audit.record(db, now, f"device:{device.id}", "sync", "limbs", what, feed_seq=last)


def _hear(
    db: Database,
    device: Device,
    limbs: Mapping[str, str | None],
    receipts: list[Receipt],
    raw_items: list[Any],
    now: datetime,
) -> int:
    """What refused items say of danger is heard, and ends for those that were kept now; how many rows were written."""
    answered = list(zip(receipts, raw_items, strict=True))
    kept = [receipt["id"] for receipt, _ in answered if receipt["status"] == "kept"]
    was = [unkept.as_heard(row) for row in unkept.mended(db, kept, now)]
    _tell_taken_back(db, answered, was, kept, now)
    ends = {receipt["id"]: n for n, (receipt, _) in enumerate(answered) if receipt["status"] == "kept"}
    # What was mended later in the same call speaks for itself.
    refused = [
        one for n, one in enumerate(answered) if one[0]["status"] == "refused" and n > ends.get(one[0]["id"], -1)
    ]
    return unkept.hear(db, device.id, limbs, refused, now)


def _tell_taken_back(
    db: Database, answered: Sequence[tuple[Receipt, Any]], heard: Sequence[Unkept], kept: Sequence[str], now: datetime
) -> None:
    """Dangers that entries kept in this call took back: of entries kept before, of `heard` ones and of this call's."""
    ends = {receipt["id"]: n for n, (receipt, _) in enumerate(answered) if receipt["status"] == "kept"}
    before_end = [
        (receipt, raw)
        for n, (receipt, raw) in enumerate(answered)
        if receipt["status"] == "refused" and n < ends.get(receipt["id"], -1)
    ]
    refused = [one for receipt, raw in before_end if (one := unkept.read(raw, receipt["errors"], now))]
    was = {one.checkin.id: one for one in (*heard, *refused)}
    replaces = [
        str(raw["replaces"]) for receipt, raw in answered if receipt["status"] == "kept" and raw.get("replaces")
    ]
    stored = checkins.already(db, [*kept, *replaces])
    changes: dict[str, list[taken_back.Change]] = {}
    for receipt, raw in answered:
        if receipt["status"] != "kept":
            continue
        if receipt["id"] not in was and not raw.get("replaces"):
            continue
        limb_id, body = stored[receipt["id"]]
        after = wire.noun(0, receipt["id"], limb_id, body, now.isoformat())
        if one := was.get(receipt["id"]):
            changes.setdefault(limb_id, []).append((one.checkin, one.faults, after))
        before = stored.get(raw.get("replaces") or "")
        if before and before[0] == limb_id and safety.may_speak(orjson.loads(before[1])):  # nearly none does
            earlier = wire.noun(0, raw["replaces"], limb_id, before[1], now.isoformat())
            if not earlier.withdrawn:
                changes.setdefault(limb_id, []).append((earlier, None, None if after.withdrawn else after))
    speaking: dict[str, set[str]] = {}
    newest, came = histories.OF_LATE + len(kept), set(kept)
    for id_, (limb_id, body) in stored.items():
        if id_ in came and safety.may_speak(orjson.loads(body)):
            speaking.setdefault(limb_id, set()).add(id_)
    for limb_id in sorted({*changes, *speaking}):
        ids = _in_longer_lines(db, limb_id, speaking.get(limb_id, set()), came, newest)
        own = changes.get(limb_id, [])
        if not own and not ids:
            continue
        history = histories.history(db, limb_id, newest=newest)
        if history is not None:
            minutes = unkept.redness_minutes(db)
            taken_back.tell(db, history, [*own, *_overtaken(history, ids)], minutes, now)


def _in_longer_lines(db: Database, limb_id: str, ids: set[str], came: set[str], newest: int) -> set[str]:
    """Those of a limb's entries that another may have overtaken: a correction of it, another correction of the same, or
    the entry itself, where it `came` only now. Nearly none, so that the log need not be read for the others.
    """
    corrects = checkins.corrections(db, limb_id, newest) if ids else {}
    if not corrects:
        return set()

    def first(id_: str) -> str:
        seen = {id_}
        while id_ in corrects and corrects[id_] not in seen:
            id_ = corrects[id_]
            seen.add(id_)
        return id_

    members = Counter(first(id_) for id_ in corrects)
    corrected = set(corrects.values())
    return {
        id_ for id_ in ids if id_ in corrected or (id_ in corrects and (members[first(id_)] > 1 or first(id_) in came))
    }


def _overtaken(history: LimbHistory, speaking: set[str]) -> list[taken_back.Change]:
    """Of entries of this call that may say of a danger those that never stood: what came with them took their place.

    Of two corrections of one entry, or an entry behind its own correction, that is the one that came last.
    """
    if not speaking:
        return []
    by_id, after = {one.id: one for one in history.checkins}, replaced(history.checkins)
    return [
        (by_id[id_], None, None if by_id[last].withdrawn else by_id[last])
        for id_, last in after.items()
        if id_ in speaking and not by_id[id_].withdrawn
    ]


def _checked(
    raw_items: list[Any], broken: Mapping[int, dict[str, list[str]]]
) -> tuple[list[Receipt], list[tuple[Receipt, Offer]]]:
    """A receipt for each item, refused until it is kept, and the offers that can be read."""
    receipts: list[Receipt] = []
    offered: list[tuple[Receipt, Offer]] = []
    for n, raw in enumerate(raw_items):
        given = raw.get("id") if isinstance(raw, dict) else None
        receipt: Receipt = {"id": given if isinstance(given, str) else None, "status": "refused", "errors": {}}
        receipts.append(receipt)
        try:
            offer = wire.read(raw)
        except wire.Refused as refused:
            receipt["errors"] = {**refused.errors, **broken.get(n, {})}
        else:
            if n in broken:
                receipt["errors"] = broken[n]
            else:
                offered.append((receipt, offer))
    return receipts, offered


def _taken(
    db: Database,
    device: Device,
    limbs: Mapping[str, str | None],
    offered: list[tuple[Receipt, Offer]],
    now: datetime,
    skew_seconds: int | None,
) -> list[checkins.New]:
    """What of the offers is to be kept now, once each; the receipts say so, and its limbs wait to be read."""
    held = checkins.already(db, [one.id for _, one in offered])
    relayed = any(one.written_by not in (None, device.id) for _, one in offered)
    writers = devices.writers_of_limbs(db, device.id) if relayed else set()
    key = clinics.authorship_key(db) if relayed else b""
    latest = wire.latest_date(now).isoformat()
    past = wire.past_everywhere(now).isoformat()
    new: list[checkins.New] = []
    for receipt, one in offered:
        if one.limb_id not in limbs:
            receipt["errors"] = {"limb_id": ["This phone does not write for this limb."]}
            continue
        before = held.get(one.id)
        if before is not None:
            # Before any rule about days: what is kept stays kept, whatever was changed since.
            if (before[0], plain_order(before[1])) == (one.limb_id, one.body):
                receipt["status"] = "already"
            else:
                receipt["errors"] = {"id": ["A different check-in already has this id."]}
            continue
        amputated_on = limbs[one.limb_id]
        if one.date > latest:
            receipt["errors"] = {"date": ["This day has not come yet. Check the date on the phone."]}
            continue
        if amputated_on and one.date < amputated_on:
            receipt["errors"] = {"date": [f"This day is before the amputation ({amputated_on})."]}
            continue
        # A phone may offer what another phone wrote, after a restore: for a phone that writes for this limb, and with
        # the proof we gave it then.
        others = (one.written_by, one.limb_id) in writers and authorship.holds(
            key, one.id, one.limb_id, one.body, str(one.written_by), one.proof
        )
        writer = one.written_by if others else device.id
        skew = skew_seconds if writer == device.id else None
        doubt = wire.doubt_of(one.date, one.offset, now, skew) if skew or one.date > past else None
        new.append((one.id, one.limb_id, one.body, writer, doubt))
        held[one.id] = (one.limb_id, one.body)
        receipt["status"] = "kept"
    if new or (skew_seconds is not None and abs(skew_seconds) > SKEW_WORTH_KEEPING):
        devices.seen(db, device.id, now, skew_seconds)
    if new:
        assessments.mark_stale(db, beside(db, {limb_id for _, limb_id, *_ in new}), now)
    return new


def _changes(
    db: Database, device: Device, limb_ids: list[str], start: int, limit: int
) -> tuple[list[tuple[int, str, Any]], bool]:
    """(seq, type, row) of the next changes after `start`, and whether more wait. Reads only, in one view."""
    rows = checkins.since(db, limb_ids, start, limit + 1, devices.own_only(db, device), devices.withheld(db, device))
    found: list[tuple[int, str, Any]] = [(row.seq, "checkin", row) for row in rows]
    found += changes.since(db, device.person_ids, start)
    found.sort(key=lambda change: change[0])
    return found[:limit], len(found) > limit


def _believed(db: Database, cursor: Cursor | None, now: datetime) -> bool:
    """Whether a cursor that stands where this file never was may make every phone offer all it holds again.

    One with our seal always; any other, which a phone could make up, once in a while.
    """
    if cursor is None:
        return False
    if authorship.sealed(clinics.authorship_key(db), cursor.said, cursor.seal):
        return True
    since = ids.made_at(clinics.feed(db)[0])
    return since is None or now - since > UNSEALED_EVERY


def _forked(db: Database, cursor: Cursor | None) -> bool:
    """Whether a phone stands where this file never was, in an epoch that is still this file's."""
    if cursor is None:
        return False
    epoch, head = clinics.feed(db)
    if cursor.epoch != epoch:
        return False
    return cursor.head > head or cursor.seq > head or audit.mark(db, cursor.head) != cursor.mark
