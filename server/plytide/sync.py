"""A batch from a phone → a receipt per id, and what changed since the phone's cursor.

One transaction per call. A receipt says "kept" only after that transaction is on the disk.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.store import assessments, audit, checkins, clinics, devices, people
from plytide.store.devices import Device
from plytide.store.sqlite import read, write
from plytide.wire import checkin as wire
from plytide.wire import nouns, offer
from plytide.wire.offer import Offer

SKEW_WORTH_KEEPING = 60

Receipt = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where a phone stands: the feed's epoch and the sequence number it has read up to.

    Also how far the feed went when the phone was told, and a fingerprint of the feed up to there: a receipt may
    be ahead of what the phone has read.
    """

    epoch: str
    seq: int
    head: int
    mark: str

    def __str__(self) -> str:
        return f"{self.epoch}.{self.seq}.{self.head}.{self.mark}"


def read_cursor(text: str | None) -> Cursor | None:
    """A cursor as the phone gave it; None for a phone that starts, or for one that makes no sense."""
    parts = (text or "").split(".")
    if len(parts) != 4 or not all(part.isascii() and part.isdigit() and len(part) <= 18 for part in parts[1:3]):
        return None
    return Cursor(parts[0], int(parts[1]), int(parts[2]), parts[3])


def exchange(
    db: Database,
    device: Device,
    raw_items: list[Any],
    cursor: Cursor | None,
    now: datetime,
    skew_seconds: int | None,
    limit: int,
) -> dict[str, Any]:
    """Receipts in the order of the items, then epoch, new cursor, changes and whether more wait.

    Durable when it returns. A cursor of another epoch starts from the beginning; the items are kept all the same.
    """
    receipts, offered = _checked(raw_items)
    writes = bool(offered) or _forked(db, cursor)
    view: AbstractContextManager[Database] = write(db) if writes else read(db)
    with view:
        if writes and _forked(db, cursor):
            # The file is an older or a forked copy. `plytide restore` begins a new epoch by itself; this finds
            # copies put back by hand.
            clinics.new_epoch(db)
            audit.record(db, now, "server", "feed.epoch", "feed")
        limbs = devices.limb_ids(db, device.id)
        last = _keep(db, device, limbs, offered, now, skew_seconds) if offered else None
        epoch, head = clinics.feed(db)
        start = cursor.seq if cursor and cursor.epoch == epoch else 0
        found, more = _changes(db, device, list(limbs), start, limit) if start < head else ([], False)
        writers = devices.writers(db, device.person_ids) if found else {}
        if writes and (last or found):
            _record(db, device, now, receipts, len(found), last)
        # After the line of this call: the mark covers it.
        there = Cursor(epoch, found[-1][0] if more else head, head, audit.mark(db, head))
    if not writes and found:
        with write(db):
            _record(db, device, now, receipts, len(found), None)
    return {
        "epoch": epoch,
        "cursor": str(there),
        "receipts": receipts,
        "changes": [
            nouns.checkin(row, writers) if kind == "checkin" else nouns.change(kind, row) for _, kind, row in found
        ],
        "more": more,
    }


def _record(
    db: Database, device: Device, now: datetime, receipts: list[Receipt], read_too: int, last: int | None
) -> None:
    kept = sum(receipt["status"] == "kept" for receipt in receipts)
    audit.record(db, now, f"device:{device.id}", "sync", "limbs", f"kept {kept}, read {read_too}", feed_seq=last)


def _checked(raw_items: list[Any]) -> tuple[list[Receipt], list[tuple[Receipt, Offer]]]:
    """A receipt for each item, refused until it is kept, and the offers that can be read."""
    receipts: list[Receipt] = []
    offered: list[tuple[Receipt, Offer]] = []
    for raw in raw_items:
        given = raw.get("id") if isinstance(raw, dict) else None
        receipt: Receipt = {"id": given if isinstance(given, str) else None, "status": "refused", "errors": {}}
        receipts.append(receipt)
        try:
            offered.append((receipt, offer.read(raw)))
        except wire.Refused as refused:
            receipt["errors"] = refused.errors
    return receipts, offered


def _keep(
    db: Database,
    device: Device,
    limbs: Mapping[str, str | None],
    offered: list[tuple[Receipt, Offer]],
    now: datetime,
    skew_seconds: int | None,
) -> int | None:
    """Keep what can be kept, once, and say so in the receipts; the last sequence number given, if any."""
    held = checkins.already(db, [one.id for _, one in offered])
    relayed = any(one.written_by not in (None, device.id) for _, one in offered)
    writers = devices.writers_of_limbs(db, device.id) if relayed else set()
    latest = wire.latest_date(now).isoformat()
    past = wire.past_everywhere(now).isoformat()
    new: list[tuple[str, str, str, str | None, str | None]] = []
    for receipt, one in offered:
        if one.limb_id not in limbs:
            receipt["errors"] = {"limb_id": ["This phone does not write for this limb."]}
            continue
        before = held.get(one.id)
        if before is not None:
            # Before any rule about days: what is kept stays kept, whatever was changed since.
            if before == (one.limb_id, one.body):
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
        # A phone may offer what another phone wrote, after a restore; only for a phone that writes for this limb.
        others = (one.written_by, one.limb_id) in writers
        writer = one.written_by if others else device.id
        skew = skew_seconds if writer == device.id else None
        doubt = wire.doubt_of(one.date, one.offset, now, skew) if skew or one.date > past else None
        new.append((one.id, one.limb_id, one.body, writer, doubt))
        held[one.id] = (one.limb_id, one.body)
        receipt["status"] = "kept"
    if new or (skew_seconds is not None and abs(skew_seconds) > SKEW_WORTH_KEEPING):
        devices.seen(db, device.id, now, skew_seconds)
    if not new:
        return None
    assessments.mark_stale(db, {limb_id for _, limb_id, *_ in new}, now)
    return checkins.keep(db, new, device.id, now)


def _changes(
    db: Database, device: Device, limb_ids: list[str], start: int, limit: int
) -> tuple[list[tuple[int, str, Any]], bool]:
    """(seq, type, row) of the next changes after `start`, and whether more wait. Reads only, in one view."""
    rows = checkins.since(db, limb_ids, start, limit + 1, devices.own_only(db, device))
    found: list[tuple[int, str, Any]] = [(row.seq, "checkin", row) for row in rows]
    found += people.changed_since(db, device.person_ids, start)
    found.sort(key=lambda change: change[0])
    return found[:limit], len(found) > limit


def _forked(db: Database, cursor: Cursor | None) -> bool:
    """Whether a phone stands where this file never was, in an epoch that is still this file's."""
    if cursor is None:
        return False
    epoch, head = clinics.feed(db)
    if cursor.epoch != epoch:
        return False
    return cursor.head > head or cursor.seq > head or audit.mark(db, cursor.head) != cursor.mark
