"""A batch from a phone → a receipt per id, and what changed since the phone's cursor.

One transaction per call. A receipt says "kept" only after that transaction is on the disk.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.store import assessments, audit, checkins, clinics, devices, people
from plytide.store.devices import Device
from plytide.store.sqlite import write
from plytide.wire import checkin as wire
from plytide.wire import nouns

SKEW_WORTH_KEEPING = 60


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where a phone stands: the feed's epoch, a sequence number, and a fingerprint of the feed up to there."""

    epoch: str
    seq: int
    mark: str

    def __str__(self) -> str:
        return f"{self.epoch}.{self.seq}.{self.mark}"


def read_cursor(text: str | None) -> Cursor | None:
    """A cursor as the phone gave it; None for a phone that starts, or for one that makes no sense."""
    parts = (text or "").split(".")
    if len(parts) != 3 or not parts[1].isascii() or not parts[1].isdigit() or len(parts[1]) > 18:
        return None
    return Cursor(parts[0], int(parts[1]), parts[2])


def push(
    db: Database, device: Device, raw_items: list[Any], now: datetime, skew_seconds: int | None
) -> list[dict[str, Any]]:
    """Keep what can be kept, once; a receipt per item, in order. Durable when it returns."""
    receipts: list[dict[str, Any]] = []
    fresh: list[tuple[dict[str, Any], dict[str, Any]]] = []  # (receipt, checked item)
    limbs = devices.limb_ids(db, device.id)
    for raw in raw_items:
        given = raw.get("id") if isinstance(raw, dict) else None
        receipt: dict[str, Any] = {
            "id": given if isinstance(given, str) else None,
            "status": "refused",
            "errors": {},
        }
        receipts.append(receipt)
        try:
            item = wire.read(raw, now)
        except wire.Refused as refused:
            receipt["errors"] = refused.errors
            continue
        if item["limb_id"] not in limbs:
            receipt["errors"] = {"limb_id": ["This phone does not write for this limb."]}
            continue
        amputated_on = limbs[item["limb_id"]]
        if amputated_on and item["date"] < amputated_on:
            receipt["errors"] = {"date": [f"This day is before the amputation ({amputated_on})."]}
            continue
        fresh.append((receipt, item))
    if fresh:
        _keep(db, device, fresh, now, skew_seconds)
    return receipts


def _keep(
    db: Database,
    device: Device,
    fresh: list[tuple[dict[str, Any], dict[str, Any]]],
    now: datetime,
    skew_seconds: int | None,
) -> None:
    bodies = [wire.body_of(item) for _, item in fresh]
    with write(db):
        held = checkins.already(db, [item["id"] for _, item in fresh])
        new: list[tuple[str, str, str, str | None, str | None]] = []
        for (receipt, item), body in zip(fresh, bodies, strict=True):
            before = held.get(item["id"])
            if before is None:
                writer = item.get("written_by") or device.id
                doubt = wire.doubt_of(item, now, skew_seconds)
                new.append((item["id"], item["limb_id"], body, writer, doubt))
                held[item["id"]] = (item["limb_id"], body)
                receipt["status"] = "kept"
            elif before == (item["limb_id"], body):
                receipt["status"] = "already"
            else:
                receipt["errors"] = {"id": ["A different check-in already has this id."]}
        if new:
            last = checkins.keep(db, new, device.id, now)
            assessments.mark_stale(db, {limb_id for _, limb_id, *_ in new}, now)
            audit.record(
                db, now, f"device:{device.id}", "checkin.keep", "limbs", f"{len(new)}", feed_seq=last
            )
        if new or (skew_seconds is not None and abs(skew_seconds) > SKEW_WORTH_KEEPING):
            devices.seen(db, device.id, now, skew_seconds)


def pull(db: Database, device: Device, cursor: Cursor | None, limit: int) -> dict[str, Any]:
    """Epoch, new cursor, changes and whether more wait. A cursor of another epoch starts from the beginning."""
    clinic = clinics.clinic_row(db)
    start = cursor.seq if cursor and cursor.epoch == clinic["epoch"] else 0
    if cursor and cursor.epoch == clinic["epoch"] and start == clinic["seq"]:
        return {"epoch": clinic["epoch"], "cursor": str(cursor), "changes": [], "more": False}
    limb_ids = list(devices.limb_ids(db, device.id))
    writers = devices.writers(db, device.person_ids)
    rows = checkins.since(db, limb_ids, start, limit + 1)
    found: list[tuple[int, dict[str, Any]]] = [(row.seq, nouns.checkin(row, writers)) for row in rows]
    found += [
        (seq, nouns.change(kind, row))
        for seq, kind, row in people.changed_since(db, device.person_ids, start)
    ]
    found.sort(key=lambda change: change[0])
    more = len(found) > limit
    found = found[:limit]
    reached = found[-1][0] if more else clinic["seq"]
    return {
        "epoch": clinic["epoch"],
        "cursor": str(Cursor(clinic["epoch"], reached, audit.mark(db, reached))),
        "changes": [change for _, change in found],
        "more": more,
    }


def notice_restored(db: Database, cursor: Cursor | None) -> None:
    """A phone that stands where this file never was: the file is an older or forked copy. Begin a new epoch.

    `plytide restore` does so by itself; this finds copies put back by hand.
    """
    if cursor is None:
        return
    clinic = clinics.clinic_row(db)
    if cursor.epoch != clinic["epoch"]:
        return
    if cursor.seq > clinic["seq"] or audit.mark(db, cursor.seq) != cursor.mark:
        with write(db):
            if clinics.clinic_row(db)["epoch"] == cursor.epoch:
                clinics.new_epoch(db)
