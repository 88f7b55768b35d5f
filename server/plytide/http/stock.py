"""Stock: items, their ledger, what the coming weeks need, a file in and files out."""

from __future__ import annotations

from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import not_found
from plytide.auth.guards import DECIDERS, STAFF
from plytide.auth.session import who
from plytide.export import stock_csv
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.records import as_file
from plytide.http.route import CSV, Routes, checked_body
from plytide.storage import audit, staff, stock
from plytide.storage.sqlite import write
from plytide.wire.stock import ItemSchema, MovementSchema, StockFileSchema
from plytide.work import stock as work
from plytide.work import stock_need
from plytide.work.refusal import Refusal

route = Routes("stock", "/api/clinic")

TEXT_CSV = "text/csv; charset=utf-8"


def seen_item(item_id: str) -> stock.Row:
    item = stock.item(clinic_db(), item_id)
    if item is None:
        raise not_found()
    return item


def values_of(given: dict[str, Any], item: stock.Row | None) -> dict[str, Any]:
    """The row's columns. The least is entered in the item's own way of counting, and kept in pieces."""
    counted_in = given.get("counted_in") or (item or {}).get("counted_in") or "unit"
    values: dict[str, Any] = {
        name: one.strip() if isinstance(one, str) else one for name, one in given.items() if name != "closed"
    }
    if "least" in values:
        values["least"] = work.pieces({"counted_in": counted_in}, values["least"], None)
    return values


@route("GET", "/stock/items", STAFF, cost="heavy")
def list_items() -> Response:
    """What the clinic has: on hand, on order, by lot."""
    found = work.with_sums(clinic_db(), settings().now().date())
    record_read("stock.read", f"{len(found)} items")
    return answer({"items": found})


@route("POST", "/stock/items", STAFF, body=ItemSchema, done=201)
def add_item() -> Response:
    given, now = checked_body(), settings().now()
    with write(clinic_db()) as db:
        item_id = stock.add_item(db, values_of(given, None), who().id, now)
        audit.record(db, now, f"staff:{who().id}", "stock-item.add", f"stock-item:{item_id}")
    return answer({"id": item_id}, 201)


@route("PATCH", "/stock/items/<item_id>", STAFF, body=ItemSchema)
def change_item(item_id: str) -> Response:
    """Other words for an item, or closed: it is kept no more. What it is counted in stays once something moved."""
    seen_item(item_id)
    given, now = checked_body(), settings().now()
    with write(clinic_db()) as db:
        item = work.seen(db, item_id)
        values = values_of(given, item)
        hand, on_order = stock.sums(db, item_id).get(item_id, (0, 0))
        if values.get("counted_in", item["counted_in"]) != item["counted_in"] and stock.movements(db, item_id, 1):
            raise Refusal("counted_in", "Something was counted already. Make another item.")
        if given.get("closed") and (hand or on_order):
            raise Refusal("closed", "Some are still on hand or on order. Count them to nought first.")
        low, high = ({**item, **values}[name] for name in ("from_mm", "to_mm"))
        if low is not None and high is not None and high < low:
            raise Refusal("to_mm", "This must not be less than where it begins.")
        if "closed" in given:
            values["closed_at"] = now.isoformat() if given["closed"] else None
        stock.change_item(db, item_id, values)
        detail = ",".join(sorted(values))
        audit.record(db, now, f"staff:{who().id}", "stock-item.change", f"stock-item:{item_id}", detail)
    return answer({"id": item_id})


@route("GET", "/stock/items/<item_id>/movements", STAFF)
def list_movements(item_id: str) -> Response:
    """The ledger of an item, newest first."""
    item, names = seen_item(item_id), staff.names(clinic_db())
    rows = stock.movements(clinic_db(), item_id)
    record_read("stock.read", f"stock-item:{item_id}")
    return answer(
        {
            "item": {name: item[name] for name in stock.ITEM if name != "closed_at"},
            "movements": [
                {name: row[name] for name in stock.MOVEMENT if name not in ("item_id", "by_staff", "created_at")}
                | {"by": names.get(row["by_staff"], row["by_staff"]), "at": row["created_at"]}
                for row in rows
            ],
        }
    )


@route("POST", "/stock/items/<item_id>/movements", STAFF, body=MovementSchema, done=(200, 201))
def move(item_id: str) -> Response:
    """One line of the ledger. More than is there, or a lot over its day, is asked about (409 `stands-against`)."""
    seen_item(item_id)
    with write(clinic_db()) as db:
        new = work.enter(db, item_id, checked_body(), who().id, settings().now())
    hand, on_order = stock.sums(clinic_db(), item_id).get(item_id, (0, 0))
    return answer({"on_hand": hand, "on_order": on_order}, 201 if new else 200)


@route("GET", "/stock/need", STAFF, cost="heavy")
def need() -> Response:
    """What the coming four weeks of recasts need against it, and what to order."""
    found = stock_need.look(clinic_db(), settings().now().date())
    record_read("stock.read", "the coming four weeks")
    return answer(found)


@route("POST", "/stock/imports", DECIDERS, body=StockFileSchema, done=(200, 201), cost="heavy")
def bring() -> Response:
    """A file of stock: looked at (`dry_run`), or kept. Rows with a fault stay out and are named."""
    given = checked_body()
    with write(clinic_db()) as db:
        found = work.bring(db, given, who().id, settings().now())
    return answer(found, 200 if given["dry_run"] else 201)


@route("GET", "/stock/imports", STAFF)
def list_imports() -> Response:
    names = staff.names(clinic_db())
    rows = stock.imports(clinic_db())
    return answer(
        {
            "imports": [
                {name: row[name] for name in ("id", "name", "how", "rows", "faults", "undone_at")}
                | {"by": names.get(row["by_staff"], ""), "at": row["created_at"]}
                for row in rows
            ]
        }
    )


@route("POST", "/stock/imports/<import_id>/undo", DECIDERS, cost="heavy")
def undo(import_id: str) -> Response:
    """Take a file back. What was used since stays, and is named."""
    with write(clinic_db()) as db:
        return answer(work.undo(db, import_id, who().id, settings().now()))


@route("GET", "/stock/stock.csv", STAFF, cost="heavy", gives=CSV)
def on_hand_csv() -> Response:
    """On hand by lot: the file that stock reads again as a count."""
    record_read("stock.export", "on hand")
    return as_file(stock_csv.on_hand(work.with_sums(clinic_db(), settings().now().date())), TEXT_CSV, "stock.csv")


@route("GET", "/stock/ledger.csv", STAFF, cost="heavy", gives=CSV)
def ledger_csv() -> Response:
    record_read("stock.export", "ledger")
    rows = stock.ledger(clinic_db())
    items = {item_id: work.seen(clinic_db(), item_id) for item_id in {row["item_id"] for row in rows}}
    return as_file(stock_csv.ledger(rows, items, staff.names(clinic_db())), TEXT_CSV, "stock-ledger.csv")


@route("GET", "/stock/order.csv", STAFF, cost="heavy", gives=CSV)
def order_csv() -> Response:
    record_read("stock.export", "to order")
    found = stock_need.look(clinic_db(), settings().now().date())
    return as_file(stock_csv.to_order(found["to_order"]), TEXT_CSV, "to-order.csv")
