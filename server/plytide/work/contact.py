"""A call is recorded: it answers a signal, closes it or puts it off, and comes back on the day of the next try."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlite_utils import Database

from plytide.engine.sentences import in_english, sentence
from plytide.storage import assessment as assessments
from plytide.storage import audit, contact, signals
from plytide.storage import limb as limbs
from plytide.storage.rows import Row
from plytide.wire.history import sentences as sentences_to_json
from plytide.work import reassess, signal_actions, visit
from plytide.work.refusal import Missing, Refusal

NEXT_TRY, _ = signals.BY_HAND  # the kind of the row that comes back by itself
RESULTS = {
    "reached": "Reached",
    "not_reached": "Not reached",
    "left_word": "Left word",
    "called_us": "They called",
}
WORDS = {"next-try.agreed": "Next try, as agreed on {on:day}."} | {
    f"next-try.{result}": f"Call again: {said.lower()} on {{on:day}}." for result, said in RESULTS.items()
}
TALKED = ("reached", "called_us")
LATER = "Choose a day after today."
NOBODY = "Nobody was reached, and this is urgent: choose a day for the next try, or leave it open."
NO_LIMB = "Add the residual limb first: the next try comes back as a row of its own."
NO_SIGNAL = "There is nothing to close: the call is about no signal."
ONE = "Close it, or put it off to a next try: not both."


def record(db: Database, person_id: str, given: dict[str, Any], staff_id: str, now: datetime) -> dict[str, Any]:
    """Keep a call with all it brings; its id, and the visit's. Only inside a write transaction.

    Raises Refusal, Missing, and Taken as a visit does.
    """
    signal = _signal(db, given.get("signal_id"), person_id)
    limb_id = given.get("limb_id") or (signal["limb_id"] if signal else None)
    limb_ids = [limb["id"] for limb in limbs.of_person(db, person_id)]
    if limb_id and limb_id not in limb_ids:
        raise Missing(limb_id)
    closes, next_on = given.get("after") == "close", given.get("next_on")
    _check(given, signal, closes, next_on, limb_id or next(iter(limb_ids), None), now.date())
    booked = visit.checked(given.get("visit"), now.date())
    heard = {name: (given.get(name) or "").strip() or None for name in ("said", "agreed")}
    kept = {"person_id": person_id, "limb_id": limb_id, "signal_id": signal["id"] if signal else None}
    kept |= {"result": given["result"], "number": given.get("number"), **heard, "next_on": next_on}
    contact_id = contact.add(db, kept, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "contact.add", f"person:{person_id}", contact_id)
    made: dict[str, Any] = {"id": contact_id}
    if booked:
        about = {"limb_id": limb_id} | ({"signal_id": signal["id"]} if signal else {})
        made["visit_id"] = visit.book(db, person_id, booked | about, staff_id, now)
    if signal:
        _beside(db, signal, given, heard, contact_id, staff_id, now)
        deed = "close" if closes else "snooze" if next_on else "acknowledge" if given.get("answer") else None
        if deed:
            outcome = {"outcome": words(given["result"], heard["said"], heard["agreed"])} if closes else {}
            more = {"until": next_on} if deed == "snooze" else outcome
            told = {"answer": given["answer"]} if given.get("answer") else {}
            signal_actions.act(db, signal["id"], deed, more | told | {"contact_id": contact_id}, staff_id, now)
            made["signal_deed"] = deed
    _next_try(db, _Call(contact_id, given, limb_ids, limb_id, signal), staff_id, now)
    return made


def words(result: str, said: str | None, agreed: str | None) -> str:
    """A call in one line, as the outcome of a signal: at most 200 characters."""
    line = ". ".join(part.rstrip(".") for part in (RESULTS[result], said, agreed and f"Agreed: {agreed}") if part)
    return line if len(line) <= 200 else f"{line[:199]}…"


def _signal(db: Database, signal_id: str | None, person_id: str) -> dict[str, Any] | None:
    if not signal_id:
        return None
    signal = signals.one(db, signal_id)
    limb = limbs.one(db, signal["limb_id"]) if signal else None
    if signal is None or limb is None or limb["person_id"] != person_id:
        raise Missing(signal_id)
    return signal


def _check(
    given: dict[str, Any],
    signal: dict[str, Any] | None,
    closes: bool,
    next_on: str | None,
    limb_id: str | None,
    today: date,
) -> None:
    if next_on and next_on <= today.isoformat():
        raise Refusal("next_on", LATER)
    if next_on and not limb_id:
        raise Refusal("next_on", NO_LIMB)
    if closes and signal is None:
        raise Refusal("after", NO_SIGNAL)
    if closes and next_on:
        raise Refusal("next_on", ONE)
    if closes and signal and signal["level"] == "urgent" and given["result"] not in TALKED:
        raise Refusal("after", NOBODY)
    if signal and signal["status"] == "closed" and (closes or next_on):
        raise Refusal("signal_id", "This was closed in the meantime. Open it again to act on it.")
    if given.get("answer") and (signal is None or signal["kind"] not in signals.ADVISED):
        raise Refusal("answer", "A phone shows the clinic's words only beside advice on safety and skin.")


@dataclass(frozen=True, slots=True)
class _Call:
    """A call that was kept: its id, what was given, the person's limbs, the one it is about and its signal."""

    id: str
    given: dict[str, Any]
    limb_ids: list[str]
    limb_id: str | None
    signal: dict[str, Any] | None


def _beside(
    db: Database,
    signal: dict[str, Any],
    given: dict[str, Any],
    heard: dict[str, str | None],
    contact_id: str,
    staff_id: str,
    now: datetime,
) -> None:
    """The call in the signal's own story."""
    told = {name: value for name, value in heard.items() if value}
    signals.event(db, signal["id"], now, "contact", staff_id, contact_id=contact_id, result=given["result"], **told)


def _next_try(db: Database, call: _Call, staff_id: str, now: datetime) -> None:
    """Tries that waited are over once somebody talked, or a later day was set; a new one waits for its day."""
    given, signal = call.given, call.signal
    next_on = given.get("next_on")
    waiting = [
        one
        for each in call.limb_ids
        for one in signals.unclosed(db, [each])[each]
        if one["kind"] == NEXT_TRY and (signal is None or one["id"] != signal["id"])
    ]
    if given["result"] in TALKED or next_on:
        for one in waiting:
            before = {"status": one["status"], "snoozed_until": one["snoozed_until"]}
            outcome = RESULTS[given["result"]]
            signals.event(db, one["id"], now, "close", staff_id, before=before, outcome=outcome, contact_id=call.id)
            signals.set_status(db, one["id"], status="closed", snoozed_until=None)
            reassess.rank(db, one["limb_id"])
    if not next_on or signal:
        return
    row = call.limb_id or call.limb_ids[0]
    told = [sentence(f"next-try.{'agreed' if given.get('agreed') else given['result']}", on=now.date())]
    opened: Row = {"level": "call", "since": next_on, "evidence": []}
    opened |= {"because": in_english(WORDS, told, NEXT_TRY), "sentences": sentences_to_json(told)}
    signal_id = signals.open_new(db, row, now, NEXT_TRY, opened, staff_id, contact_id=call.id)
    signals.event(db, signal_id, now, "snooze", staff_id, until=next_on, contact_id=call.id)
    signals.set_status(db, signal_id, status="snoozed", snoozed_until=next_on)
    reassess.rank(db, row)
    assessments.mark_stale(db, [row], now)
