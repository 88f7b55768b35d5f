"""A batch from a phone → a receipt per id, and what changed since the phone's cursor.

One transaction per call. A receipt says "kept" only after that transaction is on the disk.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import orjson
from sqlite_utils import Database

from plytide.engine import safety
from plytide.engine.series import replaced
from plytide.model import CheckIn, Unkept
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
    forked = _forked(db, cursor)
    if forked and not _believed(db, cursor, now):
        cursor, forked = None, False
    writes = bool(offered) or faulty or bool(raw_answers) or forked
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
        told = _hear(db, device, limbs, list(zip(receipts, raw_items, strict=True)), new, now) if writes else 0
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
    answered: Sequence[tuple[Receipt, Any]],
    new: Sequence[checkins.New],
    now: datetime,
) -> int:
    """Dangers of this call: of entries kept, of what they took back, and of refused items, which is heard and ends for
    those that were kept now; how many rows of refused ones were written.
    """
    speaking = [one for one in new if safety.may_speak(orjson.loads(one[2]))]  # nearly none does
    ends = {receipt["id"]: n for n, (receipt, _) in enumerate(answered) if receipt["status"] == "kept"}
    refused = [(n, one) for n, one in enumerate(answered) if one[0]["status"] == "refused"]
    was = [unkept.as_heard(row) for row in unkept.mended(db, [one[0] for one in new], now)]
    mended = [one for n, one in refused if n < ends.get(one[0]["id"], -1)]
    was += [one for receipt, raw in mended if (one := unkept.read(raw, receipt["errors"], now))]
    links = {
        receipt["id"]: raw["replaces"]
        for receipt, raw in answered
        if receipt["status"] == "kept" and raw.get("replaces")
    }
    if was or links:
        _tell_taken_back(db, {one.checkin.id: one for one in was}, links, [one[0] for one in speaking], now)
    # What was mended later in the same call speaks for itself.
    still = [one for n, one in refused if n > ends.get(one[0]["id"], -1)]
    written = unkept.hear(db, device.id, limbs, still, now) if still else 0
    heard = {limb_id for receipt, raw in still if "danger" in receipt and (limb_id := unkept.whose(raw, limbs))}
    at_once.tell(db, speaking, heard, histories.OF_LATE + len(new), now)
    return written


def _tell_taken_back(
    db: Database, was: Mapping[str, Unkept], links: Mapping[str, str], speaking: Sequence[str], now: datetime
) -> None:
    """Dangers that entries kept in this call took back: of entries kept before, of what `was` heard of them, and of
    this call's. `links`: what those that are corrections replace; `speaking`: those that may say of a danger.
    """
    newest = histories.OF_LATE + len(links) + len(speaking)
    rows = checkins.lines(db, [*was, *links, *speaking], newest)
    said = {row.id: orjson.loads(row.body) for row in rows}
    tied = {*was, *(id_ for row in rows if (other := said[row.id].get("replaces")) for id_ in (row.id, other))}
    entries = {
        row.id: wire.noun(row.seq, row.id, row.limb_id, row.body, now.isoformat()) for row in rows if row.id in tied
    }
    changes: dict[str, list[taken_back.Change]] = {}

    def instead(before: CheckIn, after: CheckIn) -> None:
        if not before.withdrawn:
            changes.setdefault(after.limb_id, []).append((before, None, None if after.withdrawn else after))

    for id_ in sorted({*was, *links}, key=lambda id_: entries[id_].seq):
        after = entries[id_]
        if one := was.get(id_):
            changes.setdefault(after.limb_id, []).append((one.checkin, one.faults, after))
        before = entries.get(links.get(id_, ""))
        if before and before.limb_id == after.limb_id and safety.may_speak(said[before.id]):
            instead(before, after)
    # Those that never stood: of two corrections of one entry, or an entry behind its own correction, the one that came
    # last took their place.
    for limb_id in {one.limb_id for one in entries.values()}:
        last = replaced(one for one in entries.values() if one.limb_id == limb_id)
        for id_ in speaking:
            if id_ in last and links.get(last[id_]) != id_:  # else said above
                instead(entries[id_], entries[last[id_]])
    minutes = unkept.redness_minutes(db) if changes else 0.0
    for limb_id, of_limb in sorted(changes.items()):
        taken_back.tell(db, limb_id, of_limb, minutes, newest, now)


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
