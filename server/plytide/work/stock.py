"""Stock: what moves it, what is told before it moves, and files of it.

A piece that is not there can be taken with words only, and a lot that is over its day too: both are asked about.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage import audit, staff, stock
from plytide.wire.stock import rows_of
from plytide.work.refusal import Missing, Refusal, go_on

Lot = tuple[str, str | None, int]  # its name, its last day, pieces on hand
Against = list[dict[str, str]]
SAME_ID = "This was kept already, with other words. Open the page anew and enter it again."
OFF = ("used", "returned", "expired")


def pieces(item: stock.Row, count: float, counted_in: str | None) -> int:
    """A pair is two pieces."""
    return int(count * (2 if (counted_in or item["counted_in"]) == "pair" else 1))


def said(item: stock.Row, hand: int) -> str:
    """So many, in the item's own way of counting."""
    if item["counted_in"] == "unit":
        return str(hand)
    pairs, single = divmod(abs(hand), 2)
    parts = [f"{pairs} pair{'' if pairs == 1 else 's'}"] if pairs or not single else []
    words = " and ".join([*parts, *(["1 single"] if single else [])])
    return f"minus {words}" if hand < 0 else words


def allot(lots: Sequence[Lot], wanted: int, today: str) -> list[tuple[str, str | None, int]]:
    """From which lots to take: those that end first in front, lots over their day last.

    What nobody has is of no lot.
    """
    taken = []
    for lot, ends, hand in sorted(lots, key=lambda one: (over(one[1], today), one[1] is None, one[1] or "", one[0])):
        part = min(wanted, hand)
        if part > 0:
            taken.append((lot, ends, part))
            wanted -= part
    if wanted:
        taken.append(("", None, wanted))
    return taken


def over(ends: str | None, today: str) -> bool:
    return ends is not None and ends < today


def seen(db: Database, item_id: str) -> stock.Row:
    item = stock.item(db, item_id)
    if item is None:
        raise Missing(item_id)
    return item


def take(
    db: Database, item: stock.Row, wanted: int, lot: str | None, now: datetime
) -> tuple[list[tuple[str, str | None, int]], Against]:
    """(lots and pieces, what stands against it) for pieces that leave the shelf. Reads only."""
    today, held = now.date().isoformat(), stock.lots(db, item["id"]).get(item["id"], [])
    hand = sum(one[2] for one in held)
    name = " ".join(filter(None, (item["name"], item["size"])))
    against: Against = []
    if lot is None:
        parts = allot(held, wanted, today)
        there = hand
    else:
        parts = [(lot, stock.lot_ends(db, item["id"], lot), wanted)]
        there = min(hand, sum(one[2] for one in held if one[0] == lot))
    if wanted > there:
        of = f" of lot {lot}" if lot else ""
        against.append({"code": "not-enough", "text": f"{name}: {said(item, there)} on hand{of}.{_last(db, item)}"})
    against += [
        {"code": "expired-lot", "text": f"{name}: lot {one or 'without a name'} was good until {ends}."}
        for one, ends, _ in parts
        if over(ends, today)
    ]
    return parts, against


def _last(db: Database, item: stock.Row) -> str:
    last = stock.last_taken(db, item["id"])
    if last is None:
        return ""
    by = staff.names(db).get(last["by_staff"], "somebody")
    return f" {by} took the last one that left, on {last['created_at'][:10]} at {last['created_at'][11:16]}."


def enter(db: Database, item_id: str, given: dict[str, Any], staff_id: str, now: datetime) -> bool:
    """Keep a movement; False where it was kept before. Only inside a write transaction."""
    item = seen(db, item_id)
    deed, lot = given["deed"], (given.get("lot") or "").strip()
    wanted = pieces(item, given["count"], given.get("counted_in"))
    known = stock.movement(db, given["id"])
    if known:
        if (known["item_id"], known["deed"]) != (item_id, deed) or _count_of(db, given["id"]) != wanted:
            raise Refusal("id", SAME_ID)
        return False
    if not wanted and deed != "counted":
        raise Refusal("count", "This must be at least 1.")
    reason = (given.get("reason") or "").strip() or None
    if deed == "counted" and reason is None:
        raise Refusal("reason", "Say what was found: a count that differs stays readable with its reason.")
    against: Against = []
    ends = given.get("expires_on") or stock.lot_ends(db, item_id, lot)
    hand, on_order = stock.sums(db, item_id).get(item_id, (0, 0))
    lines: list[tuple[str, str | None, int, int]]
    match deed:
        case "received":
            fault = other_day(item, lot, given.get("expires_on"), _held(db, item_id).get(lot))
            if fault:
                raise Refusal(*fault)
            lines = [(lot, ends, wanted, -min(wanted, max(0, on_order)))]
            if over(ends, now.date().isoformat()):
                against = [{"code": "expired-lot", "text": f"This lot was good until {ends}."}]
        case "ordered":
            lines = [("", None, 0, wanted)]
        case "order_off":
            if wanted > on_order:
                raise Refusal("count", f"Only {said(item, on_order)} on order.")
            lines = [("", None, 0, -wanted)]
        case "counted":
            lines = [(lot, ends, wanted - _held(db, item_id).get(lot, (0, None))[0], 0)]
        case _:
            parts, against = take(db, item, wanted, lot or None, now)
            # What goes back or is thrown away may well be over its day.
            against = [one for one in against if deed == "used" or one["code"] == "not-enough"]
            lines = [(one, day, -count, 0) for one, day, count in parts]
    words = go_on(against, given.get("despite"))
    reason = " ".join(filter(None, (reason, words if against else None))) or None
    for n, (one, day, change, order) in enumerate(lines):
        line = {"item_id": item_id, "deed": deed, "hand": change, "on_order": order, "lot": one, "expires_on": day}
        stock.move(db, {"id": given["id"] if n == 0 else f"{given['id']}/{n}", **line, "reason": reason}, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", f"stock.{deed}", f"stock-item:{item_id}", given["id"])
    return True


def _held(db: Database, item_id: str) -> dict[str, tuple[int, str | None]]:
    """Lot → (on hand, its last day). Reads only."""
    return {lot: (hand, ends) for lot, ends, hand in stock.lots(db, item_id).get(item_id, [])}


def _count_of(db: Database, movement_id: str) -> int:
    """The count a movement was entered with, in pieces. Reads only."""
    lines = stock.lines_of(db, movement_id)
    match lines[0]["deed"]:
        case "counted":
            return stock.held_after(db, lines[0])
        case "ordered" | "order_off":
            return abs(int(lines[0]["on_order"]))
        case _:
            return abs(sum(int(one["hand"]) for one in lines))


def other_day(
    item: stock.Row, lot: str, ends: str | None, held: tuple[int, str | None] | None
) -> tuple[str, str] | None:
    """(field, words) where pieces that come in have another day than those of their lot that are there."""
    if ends is None or held is None or held[0] <= 0 or held[1] == ends:
        return None
    there = f"{said(item, held[0])} on hand"
    if not lot:
        day = f"end on {held[1]}" if held[1] else "have no day"
        return "lot", f"Name this lot: {there} without a lot {day}, and each lot keeps its own day."
    if held[1] is None:
        return None
    words = (
        f"Of lot {lot} are {there} that end on {held[1]}. Where that day is wrong, count the lot with the right one."
    )
    return "expires_on", words


# Files.


def _key(values: dict[str, Any]) -> tuple[str, str, str]:
    return (values["kind"], _plain(values["name"]), _plain(values.get("size")))


def _plain(text: str | None) -> str:
    return " ".join((text or "").split()).casefold()


def bring(db: Database, given: dict[str, Any], staff_id: str, now: datetime) -> dict[str, Any]:
    """Keep a file's good rows and say which were not, and why. Only inside a write transaction, also for a dry run.

    Raises Refused for what is no such file.
    """
    mark = hashlib.sha256(f"{given['how']}\n{given['csv']}".encode()).hexdigest()
    known = stock.imports(db, given["id"])
    if known:
        if known[0]["sha256"] != mark:
            raise Refusal("id", SAME_ID)
        return {name: known[0][name] for name in ("id", "rows", "faults")} | {"new_items": 0, "moved": 0}
    good, faults = rows_of(given["csv"])
    there = stock.items(db)
    items = {_key(one): one for one in there}
    times = Counter(_key(one) for one in there)
    held = {(owner, lot): (hand, ends) for owner, lots in stock.lots(db).items() for lot, ends, hand in lots}
    on_order = {item_id: order for item_id, (_, order) in stock.sums(db).items()}
    seen_lots: dict[tuple[Any, str], int] = {}
    new, moved, kept = 0, 0, 0
    for line, row in good:
        key, lot = _key(row), (row.get("lot") or "").strip()
        item = items.get(key)
        if times[key] > 1:
            words = f"{times[key]} items in stock have this name and size. Give them names of their own first."
            faults.append({"line": line, "name": row["name"], "fields": {"name": words}})
            continue
        ends = row.get("expires_on")
        fault = other_day(item, lot, ends, held.get((item["id"], lot))) if item and given["how"] == "add" else None
        if fault:
            faults.append({"line": line, "name": row["name"], "fields": dict([fault])})
            continue
        if item and item["counted_in"] != row["counted_in"]:
            words = f"{item['name']} is counted by the {item['counted_in']} here."
            faults.append({"line": line, "name": row["name"], "fields": {"counted_in": words}})
            continue
        if given["how"] == "count" and (key, lot) in seen_lots:
            words = f"This lot was counted in line {seen_lots[key, lot]} already."
            faults.append({"line": line, "name": row["name"], "fields": {"lot": words}})
            continue
        seen_lots[key, lot] = line
        kept += 1
        if item is None:
            new += 1
            facts = {name: row.get(name) for name in ("kind", "name", "size", "maker", "ply", "from_mm", "to_mm")}
            facts |= {
                "counted_in": row["counted_in"],
                "least": pieces({"counted_in": row["counted_in"]}, row.get("least") or 0, None),
            }
            item = (
                {"id": f"row {line}", **facts}
                if given["dry_run"]
                else {"id": stock.add_item(db, facts, staff_id, now), **facts}
            )
            items[key] = item
        wanted = pieces(item, row["on_hand"], None)
        hand, day = held.get((item["id"], lot), (0, None))
        change = wanted if given["how"] == "add" else wanted - hand
        if not change and (ends is None or ends == day or not hand):
            continue
        moved += 1
        held[item["id"], lot] = (hand + change, ends or day)
        came = min(change, max(0, on_order.get(item["id"], 0))) if given["how"] == "add" else 0
        on_order[item["id"]] = on_order.get(item["id"], 0) - came
        if not given["dry_run"]:
            deed = "received" if given["how"] == "add" else "counted"
            values = {"item_id": item["id"], "deed": deed, "hand": change, "on_order": -came, "lot": lot}
            ends = ends or stock.lot_ends(db, item["id"], lot)
            values |= {"expires_on": ends, "reason": None, "import_id": given["id"]}
            stock.move(db, values, staff_id, now)
    faults.sort(key=lambda one: one["line"])
    if not given["dry_run"]:
        about = {"id": given["id"], "name": given["name"], "how": given["how"], "sha256": mark}
        stock.add_import(db, {**about, "rows": kept, "faults": faults}, staff_id, now)
        # A count that finds all as it stands moves nothing: that it was made is said here alone.
        detail = f"{kept} rows, {moved} moved, {kept - moved} as they stood"
        audit.record(db, now, f"staff:{staff_id}", "stock.bring", f"stock-import:{given['id']}", detail)
    return {"id": given["id"], "rows": kept, "faults": faults, "new_items": new, "moved": moved}


def undo(db: Database, import_id: str, staff_id: str, now: datetime) -> dict[str, Any]:
    """Take a file's rows back by lines against them.

    A lot of which less is left than that, or that was counted since, stays and is named.

    Only inside a write transaction. Raises Missing, Refusal.
    """
    found = stock.imports(db, import_id)
    if not found:
        raise Missing(import_id)
    if found[0]["undone_at"]:
        raise Refusal("import", "This file was taken back already.")
    held = {(owner, lot): hand for owner, lots in stock.lots(db).items() for lot, _, hand in lots}
    lines, stays, gone = stock.of_import(db, import_id), [], 0
    for one in lines:
        at = (one["item_id"], one["lot"])
        counted = stock.counted_since(db, one)
        if counted or held.get(at, 0) - one["hand"] < min(0, held.get(at, 0)):
            item = seen(db, one["item_id"])
            words = (
                f"{said(item, held.get(at, 0))} on hand: this lot was counted since."
                if counted
                else (f"{said(item, held.get(at, 0))} left of {said(item, one['hand'])}: some was taken since.")
            )
            stays.append({"item_id": item["id"], "name": item["name"], "lot": one["lot"], "why": words})
            continue
        held[at] = held.get(at, 0) - one["hand"]
        gone += 1
        back = {name: one[name] for name in ("item_id", "lot", "import_id")}
        back |= {"deed": "undone", "hand": -one["hand"], "on_order": -one["on_order"], "reason": None}
        ends, earlier = stock.lot_ends(db, *at), stock.lot_ends(db, *at, before=one["n"])
        ends = earlier if earlier and ends == one["expires_on"] else ends  # the day was the file's, too
        stock.move(db, {**back, "expires_on": ends}, staff_id, now)
    stock.undo_import(db, import_id, now)
    detail = f"taken back {gone}, kept {len(stays)}"
    audit.record(db, now, f"staff:{staff_id}", "stock.undo", f"stock-import:{import_id}", detail)
    return {"gone": gone, "kept": stays}


def with_sums(db: Database, today: date) -> list[dict[str, Any]]:
    """Every item with what is on hand, on order, by lot, and what is over its day. Reads only."""
    sums, lots, day = stock.sums(db), stock.lots(db), today.isoformat()
    found = []
    for item in stock.items(db):
        hand, on_order = sums.get(item["id"], (0, 0))
        held = lots.get(item["id"], [])
        expired = sum(count for _, ends, count in held if count > 0 and over(ends, day))
        found.append(
            {name: item[name] for name in stock.ITEM if name != "closed_at"}
            | {"on_hand": hand, "on_order": on_order, "expired": expired}
            | {"on_hand_words": said(item, hand), "on_order_words": said(item, on_order)}
            | {
                "lots": [
                    {"lot": lot, "expires_on": ends, "on_hand": count, "over": over(ends, day)}
                    for lot, ends, count in held
                ]
            }
        )
    return found
