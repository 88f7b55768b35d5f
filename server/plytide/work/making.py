"""A socket being made: each answer kept at once, stopped by what stands against it, finished as a socket, put right
later.

Everything is an event of its own, so that a second press, another screen or a change of mind loses nothing.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any

from sqlite_utils import Database

from plytide.storage import assessment as assessments
from plytide.storage import audit, despite, making, rows, stock
from plytide.storage import limb as limbs
from plytide.storage import socket as sockets
from plytide.wire.making import ASKS, value_of
from plytide.work import stock as stock_work
from plytide.work.entry_rules import check
from plytide.work.making_list import list_of
from plytide.work.making_state import Against, against_of, found_in, seen, state_of, unanswered
from plytide.work.refusal import Missing, Refusal, StandsAgainst, go_on

Row = dict[str, Any]
TAKEN_OUT = "This was taken out as a mistake. Put it back first."
FINISHED = "This is finished already."


class LeftOpen(StandsAgainst):
    """Steps are open, and nobody said yet that they stay so."""

    code, field = "left-open", "open_seen"
    message = "These steps are open. Finish them, or finish the socket and leave them open."


def _ask(db: Database, state: Row, why: Row | None, staff_id: str, now: datetime) -> Against:
    """Stop, or keep why somebody goes on. Only inside a write transaction."""
    against = against_of(db, state, now)
    fresh = unanswered(state, against)
    reason = go_on(fresh, why)
    if fresh:
        making.note_event(db, state["id"], "despite", {"against": fresh, "reason": reason}, staff_id, now)
        codes = ",".join(one["code"] for one in fresh)
        audit.record(db, now, f"staff:{staff_id}", "making.despite", f"making:{state['id']}", codes)
    return against


def _known(
    db: Database, event_id: str, making_id: str, what: str, same: Row | None = None, step: str | None = None
) -> bool:
    """Whether this was kept before. Raises Refusal where the same id said something else."""
    kept = making.event(db, event_id)
    if kept is None:
        return False
    differs = same is not None and any(kept["body"].get(name) != value for name, value in same.items())
    if (kept["making_id"], kept["what"], kept["step"]) != (making_id, what, step) or differs:
        raise Refusal("id", stock_work.SAME_ID)
    return True


# What is done. All only inside a write transaction.


def begin(db: Database, limb_id: str, given: Row, staff_id: str, now: datetime) -> bool:
    """False where it was begun before. Raises Refusal, StandsAgainst."""
    known = making.one(db, given["id"])
    if known:
        first = next(one["body"] for one in making.events(db, given["id"]) if one["what"] == "plan")
        kept = (known["limb_id"], known["made"], known["begun_on"], first["purpose"], first["suspension"])
        if kept != (limb_id, given["made"], given["on"], given["purpose"], given.get("suspension")):
            raise Refusal("id", stock_work.SAME_ID)
        return False
    limb = limbs.one(db, limb_id)
    if limb is None:
        raise Missing(limb_id)
    if given["on"] > (now + timedelta(days=1)).date().isoformat():
        raise Refusal("on", "This day has not come yet.")
    if limb["amputated_on"] and given["on"] < limb["amputated_on"]:
        raise Refusal("on", "This day is before the amputation.")
    open_ones = [one for one in making.of_limb(db, limb_id) if not _over(state_of(db, one))]
    against: Against = []
    if open_ones:
        begun_on = open_ones[0]["begun_on"]
        text = f"A socket begun on {begun_on} is not finished. Go on with that one, or say why another is begun."
        against = [{"code": "begun-already", "text": text}]
    reason = go_on(against, given.get("despite"))
    steps = {
        name: value for name, value in list_of(db, given["made"]).items() if name not in ("versions", "made", "stops")
    }
    row = {"id": given["id"], "limb_id": limb_id, "made": given["made"], "begun_on": given["on"], "list": steps}
    making.begin(db, row, staff_id, now)
    plan = {"purpose": given["purpose"], "suspension": given.get("suspension")}
    making.note_event(db, given["id"], "plan", plan, staff_id, now)
    if against:
        making.note_event(db, given["id"], "despite", {"against": against, "reason": reason}, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "making.begin", f"limb:{limb_id}", given["id"])
    return True


def _over(state: Row) -> bool:
    return bool(state["finished"] or state["voided"])


def _standing(db: Database, making_id: str) -> Row:
    state = state_of(db, seen(db, making_id))
    if state["voided"]:
        raise Refusal("making", TAKEN_OUT)
    return state


def plan(db: Database, making_id: str, given: Row, staff_id: str, now: datetime) -> bool:
    """What for and how it will be held on, before it is finished."""
    body = {"purpose": given["purpose"], "suspension": given["suspension"]}
    if _known(db, given["id"], making_id, "plan", body):
        return False
    if _standing(db, making_id)["finished"]:
        raise Refusal("making", f"{FINISHED} Change the socket itself.")
    making.add_event(db, making.Event(given["id"], making_id, "plan", body), staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "making.plan", f"making:{making_id}")
    return True


def answer(db: Database, making_id: str, given: Row, staff_id: str, now: datetime) -> bool:
    """A step is done, not needed or open again; what it asks for is its value."""
    row = seen(db, making_id)
    step = next((one for one in row["list"]["steps"] if one["code"] == given["step"]), None)
    if step is None:
        raise Refusal("step", "There is no such step in this list.")
    said: Row = {}
    if "state" in given:
        said["state"] = given["state"]
    if "value" in given:
        said["value"] = value_of(step["code"], given["value"])
    if "note" in given:
        said["note"] = (given["note"] or "").strip() or None
    if _known(db, given["id"], making_id, "step", said, step["code"]):
        return False
    state = _standing(db, making_id)
    last = next(one for one in state["steps"] if one["code"] == step["code"])
    body = {name: last[name] for name in ("state", "value", "note")} | said
    if step["code"] in ASKS and body["state"] == "done" and body["value"] is None:
        raise Refusal("value", "Say what was found: the step asks for it.")
    why = (given.get("why") or "").strip()
    asks = ASKS.get(step["code"])
    if asks and asks.stops and body["state"] == "not-needed" and not body["note"]:
        raise Refusal("note", "This step can stop the making. Say why it is not needed here.")
    if state["finished"]:
        if len(why) < 3:
            raise Refusal(
                "why", "The socket is finished. Say why this is put right: what stood there before stays readable."
            )
        body["why"] = why
    elif step["phase"] != "before" and body["state"] == "done":
        _ask(db, state, given.get("despite"), staff_id, now)
    making.add_event(db, making.Event(given["id"], making_id, "step", body, step["code"]), staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "making.step", f"making:{making_id}", step["code"])
    return True


def _mark(given: Row) -> str:
    """Of what was said at the end, without what a stop was answered with: the same page may send it twice."""
    said = {name: value for name, value in given.items() if name not in ("despite", "open_seen")}
    return sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def finish(db: Database, making_id: str, given: Row, staff_id: str, now: datetime) -> str:
    """The socket is made: it is entered, what is open is named, what was worn is retired. The socket's id."""
    if _known(db, given["id"], making_id, "finish"):
        kept = (making.event(db, given["id"]) or {})["body"]
        if kept.get("given") not in (None, _mark(given)):  # none: kept before marks were
            raise Refusal("id", stock_work.SAME_ID)
        return str(kept["socket_id"])
    state = _standing(db, making_id)
    if state["finished"]:
        raise Refusal("making", FINISHED)
    limb_id = state["limb_id"]
    values = {name: int(one) if isinstance(one, bool) else one for name, one in given["socket"].items()}
    values |= {
        "limb_id": limb_id,
        "made": state["made"],
        **{name: state["plan"].get(name) for name in ("purpose", "suspension")},
    }
    found = found_in(state)
    if values.get("weight_limit_kg") is None:
        values["weight_limit_kg"] = found.get("limit")
    if values["fitted_on"] < state["begun_on"]:
        raise Refusal("socket.fitted_on", "This day is before the making was begun.")
    if str(values["fitted_on"]) > (now + timedelta(days=1)).date().isoformat():
        raise Refusal("socket.fitted_on", "This day has not come yet.")
    check(db, "socket", values, now)
    worn = sockets.one(db, given["retires"]) if given.get("retires") else None
    if worn is not None and worn["retired_on"]:
        raise Refusal("retires", f"This socket is worn no more since {worn['retired_on']}.")
    if given.get("retires") and (worn is None or worn["limb_id"] != limb_id or worn["fitted_on"] > values["fitted_on"]):
        raise Refusal("retires", "This socket is not one of this limb’s, or was fitted later.")
    limits = [one for one in (values["weight_limit_kg"], found.get("limit")) if one is not None]
    state_now = {**state, "list": {**state["list"], "limit_kg": min(limits, default=None)}}
    state_now["steps"] = [one for one in state["steps"] if one["code"] != "limit"]
    against = _ask(db, state_now, given.get("despite"), staff_id, now)
    left = [one["text"] for one in state["steps"] if one["state"] == "open"]
    if left and not given.get("open_seen"):
        raise LeftOpen([{"code": "left-open", "text": text} for text in left])
    socket_id = rows.add(db, "socket", values, now)
    before = {name: worn[name] for name in ("id", "retired_on", "retired_why")} if worn else None
    if before:
        before["then"] = values["fitted_on"]
    if worn:
        why = (given.get("retired_why") or "").strip() or None
        rows.change(db, "socket", worn["id"], {"retired_on": values["fitted_on"], "retired_why": why}, now)
    if against:
        stands = {(one["code"], one["text"]) for one in against}
        reasons = [
            each["reason"]
            for each in state_of(db, seen(db, making_id))["despite"]
            if any((one["code"], one["text"]) in stands and one["code"] not in each["over"] for one in each["against"])
        ]
        despite.add(db, socket_id, against, " ".join(dict.fromkeys(reasons)), staff_id, now)
    body = {
        "socket_id": socket_id,
        "left_open": left,
        "bring": (given.get("bring") or "").strip() or None,
        "before": before,
        "given": _mark(given),
    }
    making.add_event(db, making.Event(given["id"], making_id, "finish", body), staff_id, now)
    assessments.mark_stale(db, [limb_id], now)
    audit.record(db, now, f"staff:{staff_id}", "making.finish", f"making:{making_id}", socket_id)
    return socket_id


def void(db: Database, making_id: str, given: Row, staff_id: str, now: datetime) -> bool:
    """Begun or entered by mistake: the socket is worn no more, what it took from stock goes back."""
    if _known(db, given["id"], making_id, "void", {"reason": given["reason"].strip()}):
        return False
    state = _standing(db, making_id)
    body: Row = {"reason": given["reason"].strip(), "uses": []}
    for one in making.uses(db, making_id):
        if one["given_back_at"] is None:
            _put_back(db, one, staff_id, now)
            body["uses"].append(one["id"])
    if state["finished"]:
        socket = sockets.one(db, state["finished"]["socket_id"])
        if socket:
            body["socket"] = {name: socket[name] for name in ("id", "retired_on", "retired_why")}
            why = f"Entered by mistake: {body['reason']}"
            rows.change(db, "socket", socket["id"], {"retired_on": socket["fitted_on"], "retired_why": why}, now)
        worn = state["finished"].get("before")
        if worn:
            now_worn = sockets.one(db, worn["id"]) or {}
            if now_worn.get("retired_on") == worn.get("then", now_worn.get("retired_on")):
                body["worn"] = {name: now_worn.get(name) for name in ("retired_on", "retired_why")} | {"id": worn["id"]}
                gone = {worn["id"], state["finished"]["socket_id"], *making.mistaken(db, state["limb_id"])}
                since = [
                    one["fitted_on"]
                    for one in sockets.of_limb(db, state["limb_id"])
                    if one["id"] not in gone and one["fitted_on"] >= (worn.get("then") or one["fitted_on"])
                ]
                body["worn"]["then"] = worn["retired_on"] or min(since, default=None)  # another one is worn since
                why = worn["retired_why"]
                rows.change(db, "socket", worn["id"], {"retired_on": body["worn"]["then"], "retired_why": why}, now)
    making.add_event(db, making.Event(given["id"], making_id, "void", body), staff_id, now)
    assessments.mark_stale(db, [state["limb_id"]], now)
    audit.record(db, now, f"staff:{staff_id}", "making.void", f"making:{making_id}")
    return True


def restore(db: Database, making_id: str, given: Row, staff_id: str, now: datetime) -> bool:
    """It was no mistake: all as it was, and what it took from stock is taken again."""
    if _known(db, given["id"], making_id, "restore"):
        return False
    state = state_of(db, seen(db, making_id))
    if state["voided"] is None:
        raise Refusal("making", "This was not taken out.")
    against: Against = []
    again: list[tuple[Row, list[stock_work.Lot]]] = []
    for use_id in state["voided"]["uses"]:
        use = making.use(db, use_id)
        if use:
            item = stock_work.seen(db, use["item_id"])
            parts, stands = stock_work.take(db, item, use["pieces"], None, now)
            against += stands
            again.append((use, parts))
            for lot, ends, count in parts:  # two uses of one item: the second sees what the first took
                _line(db, use, "taken", (lot, ends, -count), staff_id, now)
    reason = go_on(against, given.get("despite"))
    for use, parts in again:
        making.set_given_back(db, use["id"], None, [list(part) for part in parts])
    for kept in (state["voided"].get("socket"), state["voided"].get("worn")):
        row = sockets.one(db, kept["id"]) if kept else None
        if kept and row and row["retired_on"] == kept.get("then", row["retired_on"]):  # else it was put right since
            rows.change(db, "socket", kept["id"], {name: kept[name] for name in ("retired_on", "retired_why")}, now)
    body = {"reason": reason, "against": against}
    making.add_event(db, making.Event(given["id"], making_id, "restore", body), staff_id, now)
    assessments.mark_stale(db, [state["limb_id"]], now)
    audit.record(db, now, f"staff:{staff_id}", "making.restore", f"making:{making_id}")
    return True


# What it takes from stock.


def _line(db: Database, use: Row, deed: str, lot: stock_work.Lot, staff_id: str, now: datetime) -> None:
    name, ends, hand = lot
    values = {"item_id": use["item_id"], "deed": deed, "hand": hand, "on_order": 0, "lot": name, "expires_on": ends}
    stock.move(db, values, staff_id, now)


def _put_back(db: Database, use: Row, staff_id: str, now: datetime) -> None:
    for lot, ends, count in use["lots"]:
        day = stock.lot_ends(db, use["item_id"], lot) or ends  # it may have been put right since
        _line(db, use, "given_back", (lot, day, count), staff_id, now)
    making.set_given_back(db, use["id"], now.isoformat())


def take(db: Database, making_id: str, given: Row, staff_id: str, now: datetime) -> bool:
    """Pieces from stock for this socket; False where they were taken before."""
    item = stock.item(db, given["item_id"])
    if item is None:
        raise Refusal("item_id", "There is no such item in stock.")
    wanted = stock_work.pieces(item, given["count"], given.get("counted_in"))
    known = making.use(db, given["id"])
    if known:
        if (known["making_id"], known["item_id"], known["pieces"]) != (making_id, item["id"], wanted):
            raise Refusal("id", stock_work.SAME_ID)
        return False
    _standing(db, making_id)
    parts, against = stock_work.take(db, item, wanted, (given.get("lot") or "").strip() or None, now)
    mine = [one for one in making.uses(db, making_id) if one["item_id"] == item["id"] and one["given_back_at"] is None]
    if mine:
        words = stock_work.said(item, sum(one["pieces"] for one in mine))
        text = f"{item['name']}: {words} taken for this socket already."
        against.append({"code": "taken-already", "text": text})
    reason = go_on(against, given.get("despite"))
    use = {"id": given["id"], "making_id": making_id, "item_id": item["id"], "pieces": wanted}
    making.add_use(
        db, {**use, "lots": [list(part) for part in parts], "despite": reason if against else None}, staff_id, now
    )
    for lot, ends, count in parts:
        _line(db, use, "taken", (lot, ends, -count), staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "stock.taken", f"making:{making_id}", item["id"])
    return True


def give_back(db: Database, use_id: str, staff_id: str, now: datetime) -> str:
    """What was taken goes back on the shelf, once; the making it was taken for."""
    use = making.use(db, use_id)
    if use is None:
        raise Missing(use_id)
    making_id = str(use["making_id"])
    if use["given_back_at"] is not None:
        return making_id
    _put_back(db, use, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "stock.given_back", f"making:{making_id}", use["item_id"])
    return making_id
