"""How a socket being made stands: its answers with their history, what was taken for it, what stands against it."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.engine.facts import Facts
from plytide.engine.making import stops
from plytide.storage import clinics, making, staff, stock
from plytide.storage import history as histories
from plytide.wire.history import reason as reason_to_json
from plytide.wire.making import ASKS
from plytide.work import reassess
from plytide.work import stock as stock_work
from plytide.work.refusal import Missing

Row = dict[str, Any]
Against = list[dict[str, str]]
#: Which matter an answer of a step can bring or end.
FOUND_BY = {
    "skin": "open-skin",
    "scar": "deep-scar",
    "shape": "bulbous",
    "weight": "weight-over-limit",
    "limit": "weight-over-limit",
    "length": "too-short-for-pin",
    "pin_least": "too-short-for-pin",
    "feeling": "no-heat-check",
    "heat2": "no-heat-check",
}


def seen(db: Database, making_id: str) -> Row:
    row = making.one(db, making_id)
    if row is None:
        raise Missing(making_id)
    return row


def state_of(db: Database, row: Row, until: str | None = None) -> Row:
    """How a making stands, with the history of each answer; with `until`, as it stood then. Reads only."""
    names, events = staff.names(db), making.events(db, row["id"], until)

    def by(one: Row) -> Row:
        return {"by": names.get(one["by_staff"], one["by_staff"]), "at": one["created_at"]}

    answers: dict[str, list[Row]] = {}
    plan: Row = {}
    gone_on: list[Row] = []
    finished: Row | None = None
    voided: Row | None = None
    for one in events:
        body = one["body"]
        match one["what"]:
            case "step":
                before = answers.get(one["step"], [{}])[-1]
                changed = any(before.get(name) != body.get(name) for name in ("state", "value"))
                if before and changed and one["step"] in FOUND_BY:
                    for each in gone_on:
                        each["over"].append(FOUND_BY[one["step"]])
                answers.setdefault(one["step"], []).append({**body, **by(one)})
            case "plan":
                plan = {**body, **by(one)}
            case "despite":
                gone_on.append({**body, **by(one), "over": []})
            case "finish":
                finished = {**body, **by(one)}
                finished.pop("given", None)
            case "void":
                voided = {**body, **by(one)}
            case "restore":
                voided = None
    steps = []
    for step in row["list"]["steps"]:
        told = answers.get(step["code"], [])
        last = told[-1] if told else {"state": "open", "value": None, "note": None, "by": None, "at": None}
        ask = ASKS.get(step["code"])
        asks = asdict(ask) if ask else None
        steps.append({**step, "asks": asks, **last, "history": told[:-1]})
    return {
        "id": row["id"],
        "limb_id": row["limb_id"],
        "made": row["made"],
        "begun_on": row["begun_on"],
        "begun_by": names.get(row["by_staff"], row["by_staff"]),
        "begun_at": row["created_at"],
        "plan": plan,
        "list": {name: value for name, value in row["list"].items() if name != "steps"},
        "steps": steps,
        "despite": gone_on,
        "finished": finished,
        "voided": voided,
        "items": _items(db, row["id"]) if until is None else [],
        "seen": events[-1]["n"] if events else 0,
    }


def _items(db: Database, making_id: str) -> list[Row]:
    names, found = staff.names(db), []
    for one in making.uses(db, making_id):
        item = stock.item(db, one["item_id"]) or {"name": "", "size": None, "counted_in": "unit", "kind": ""}
        found.append(
            {
                "id": one["id"],
                "item_id": one["item_id"],
                "name": item["name"],
                "size": item["size"],
                "kind": item["kind"],
            }
            | {
                "pieces": one["pieces"],
                "words": stock_work.said(item, one["pieces"]),
                "lots": [lot for lot, _, _ in one["lots"] if lot],
            }
            | {"despite": one["despite"], "by": names.get(one["by_staff"], ""), "at": one["created_at"]}
            | {"given_back_at": one["given_back_at"]}
        )
    return found


def found_in(state: Row) -> Row:
    """What the steps that ask were answered with; the clinic's own figures where nobody said another."""
    own = state["list"]
    found = {"limit": own.get("limit_kg"), "pin_least": own.get("pin_least_mm")}
    found |= {
        one["code"]: one["value"] for one in state["steps"] if one["value"] is not None and one["state"] != "open"
    }
    return {name: value for name, value in found.items() if value is not None}


def against_of(db: Database, state: Row, now: datetime) -> Against:
    """What stands against it as it is, whether or not somebody said why they go on. Reads only."""
    history = histories.history(db, state["limb_id"])
    if history is None:
        raise Missing(state["limb_id"])
    thresholds = reassess.thresholds_of(clinics.clinic_row(db)["settings"])
    reasons = stops(
        Facts.of(history), state["made"], state["plan"].get("suspension"), found_in(state), now.date(), thresholds
    )
    return [reason_to_json(one) for one in reasons]


def unanswered(state: Row, against: Against) -> Against:
    """What nobody said yet why they go on with.

    Other words for a matter (another weight) are another matter, and so is one that was over and came again.
    """
    said = {
        (one["code"], one["text"])
        for each in state["despite"]
        for one in each["against"]
        if one["code"] not in each["over"]
    }
    return [one for one in against if (one["code"], one["text"]) not in said]


def of_limb(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """The makings of a limb, newest first, each as it stands or stood. Reads only."""
    return [state_of(db, row, until) for row in making.of_limb(db, limb_id, until)]
