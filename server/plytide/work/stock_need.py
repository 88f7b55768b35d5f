"""What the coming four weeks of recasts need, against what is on hand and on order: what to order."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from sqlite_utils import Database

from plytide.engine.facts import Facts
from plytide.engine.planner import Item
from plytide.engine.planner import stock as items_of
from plytide.engine.remake import clock_of
from plytide.model import Decision, Limb, LimbHistory, Socket
from plytide.storage import clinics, decisions
from plytide.storage import history as histories
from plytide.work import reassess
from plytide.work.stock import over, said, with_sums

DAYS = 28


@dataclass(slots=True)
class Need:
    """So many pieces of one thing, and for whom."""

    what: str
    size: str
    count: int = 0
    for_whom: list[dict[str, Any]] = field(default_factory=list)


def planned(db: Database, today: date) -> list[tuple[str, dict[str, Any], date]]:
    """(limb, person, day) of recasts planned or due by the clock within the coming weeks, also those overdue."""
    last = today + timedelta(days=DAYS)
    undone = decisions.undone(db)
    thresholds = reassess.thresholds_of(clinics.clinic_row(db)["settings"])
    found = []
    for row in decisions.forecasts(db):
        decided = undone.get(row["limb_id"])
        on = date.fromisoformat(decided["planned_on"]) if decided and decided["planned_on"] else None
        if decided and on and decided["choice"] not in decisions.NO_RECAST:
            if on <= last:
                found.append((row["limb_id"], row["person"], on))
            continue
        purpose, fitted_on = row["worn"] or (None, None)
        if purpose != "diagnostic" or not fitted_on:
            continue
        worn = (Socket("worn", date.fromisoformat(fitted_on), purpose=purpose),)
        made = (Decision(date.fromisoformat(decided["on"]), decided["choice"], on),) if decided else ()
        clock = clock_of(LimbHistory(Limb(row["limb_id"]), worn, decisions=made), today, thresholds)
        if clock and clock.first <= last:
            found.append((row["limb_id"], row["person"], clock.first))
    return sorted(found, key=lambda one: (one[2], one[0]))


def fits(item: dict[str, Any], what: str, size: str) -> bool:
    """Whether an item of the clinic's is what a recast needs: a liner by its circumference, a sock by its ply."""
    if what == "liner":
        if item["kind"] != "liner":
            return False
        cm = re.match(r"(\d+) cm", size)
        low, high = item["from_mm"], item["to_mm"]
        if cm is None or (low is None and high is None):
            return bool(item["size"]) and item["size"].replace(" ", "") == size.replace(" ", "")
        least, most = int(cm[1]) * 10, int(cm[1]) * 10 + 10
        return (low is None or low < most) and (high is None or high >= least)
    ply = 0 if what == "sheath" else int(what.split("-", 1)[0])
    return bool(item["kind"] == "sock" and item["ply"] == ply)


def needs(wanted: Sequence[tuple[str, dict[str, Any], date, Sequence[Item]]]) -> list[Need]:
    found: dict[tuple[str, str], Need] = {}
    for limb_id, person, on, things in wanted:
        for thing in things:
            size = thing.size if thing.what == "liner" else ""
            need = found.setdefault((thing.what, size), Need(thing.what, size))
            need.count += thing.count
            need.for_whom.append(
                {"limb_id": limb_id, "name": person["name"], "on": on.isoformat(), "count": thing.count}
            )
    return sorted(found.values(), key=lambda one: (one.what != "liner", one.what, one.size))


def against(
    items: list[dict[str, Any]], wanted: list[Need], today: date
) -> tuple[list[dict[str, Any]], dict[str, int]]:
    """(each need with what is there for it, item id → pieces the needs want of it). A piece serves one need only."""
    last = (today + timedelta(days=DAYS)).isoformat()
    left = {
        one["id"]: max(0, sum(lot["on_hand"] for lot in one["lots"] if not over(lot["expires_on"], last)))
        for one in items
    }
    coming = {one["id"]: max(0, one["on_order"]) for one in items}
    lines, used = [], dict.fromkeys(left, 0)
    for need in wanted:
        mine = [one for one in items if fits(one, need.what, need.size)]
        there = ordered = 0
        for one in mine:
            part = min(need.count - there, left[one["id"]])
            left[one["id"]] -= part
            used[one["id"]] += part
            there += part
        for one in mine:
            part = min(need.count - there - ordered, coming[one["id"]])
            coming[one["id"]] -= part
            used[one["id"]] += part
            ordered += part
        short = need.count - there - ordered
        if short and mine:
            used[mine[0]["id"]] += short
        lines.append(
            {
                "what": need.what,
                "size": need.size,
                "count": need.count,
                "there": there,
                "ordered": ordered,
                "short": short,
            }
            | {"items": [one["id"] for one in mine], "for": need.for_whom}
        )
    return lines, used


def to_order(
    items: list[dict[str, Any]], used: dict[str, int], lines: list[dict[str, Any]], today: date
) -> list[dict[str, Any]]:
    """What to order: what the needs lack, and what falls below the least the clinic wants on its shelf."""
    last = (today + timedelta(days=DAYS)).isoformat()
    found = []
    for one in items:
        good = max(0, sum(lot["on_hand"] for lot in one["lots"] if not over(lot["expires_on"], last)))
        count = used[one["id"]] + one["least"] - good - max(0, one["on_order"])
        if count > 0:
            count += count % 2 if one["counted_in"] == "pair" else 0
            why = [f"{said(one, used[one['id']])} needed in four weeks"] if used[one["id"]] else []
            why += [f"at least {said(one, one['least'])} wanted on the shelf"] if one["least"] else []
            why += [f"{said(one, good)} good until then, {said(one, max(0, one['on_order']))} on order"]
            found.append(
                {"item_id": one["id"], "name": one["name"], "size": one["size"], "maker": one["maker"], "count": count}
                | {"counted_in": one["counted_in"], "words": said(one, count), "why": "; ".join(why)}
            )
    found += [
        {"item_id": None, "name": line["what"], "size": line["size"], "maker": None, "count": line["short"]}
        | {"counted_in": "unit", "words": str(line["short"]), "why": "no item in stock is named for it"}
        for line in lines
        if line["short"] and not line["items"]
    ]
    return found


def look(db: Database, today: date) -> dict[str, Any]:
    """The four weeks ahead. Reads only."""
    wanted = []
    for limb_id, person, on in planned(db, today):
        history = histories.history(db, limb_id)
        if history is not None:
            wanted.append((limb_id, person, on, items_of(Facts.of(history), today)))
    items = with_sums(db, today)
    lines, used = against(items, needs(wanted), today)
    return {
        "from": today.isoformat(),
        "to": (today + timedelta(days=DAYS)).isoformat(),
        "recasts": [{"limb_id": one[0], "name": one[1]["name"], "on": one[2].isoformat()} for one in wanted],
        "needs": lines,
        "to_order": to_order(items, used, lines, today),
    }
