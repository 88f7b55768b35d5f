"""Messages between the clinic and a person's phones: written, shown, answered, read; who may see what.

Both ways they wait for a network: nothing here is for what can't wait.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

from plytide.engine.sentences import in_english, sentence
from plytide.model import Sentence
from plytide.storage import audit, message, signals, staff
from plytide.storage import device as devices
from plytide.storage import limb as limbs
from plytide.storage import person as people
from plytide.storage.device import Device
from plytide.wire.checkin import Refused
from plytide.wire.history import sentences as sentences_to_json
from plytide.wire.message import PHOTO_ANSWERS, answer_of
from plytide.work import reassess
from plytide.work.refusal import Missing, Refusal

Row = dict[str, Any]

_, WAITS = signals.BY_HAND  # the kind of the row while an answer waits to be read
DAYS_SHOWN = 90  # on a phone; judgement
PHOTO_WORDS = {"photo": "photo sent", "cannot": "no photo now"}
WORDS = {"message.waits": "An answer waits to be read: “{answer}”."}
for _choice, _words in PHOTO_WORDS.items():
    WORDS[f"message.{_choice}"] = f"An answer waits to be read: “{_words}”."
    WORDS[f"message.{_choice}-and-words"] = f"An answer waits to be read: “{_words}. {{text}}”."
NOBODY = "No phone of theirs can get this now. Call instead."


def reaches(role: str, for_role: str | None) -> bool:
    return for_role in (None, "all", role)


def send(db: Database, person_id: str, given: Row, staff_id: str, now: datetime) -> str:
    """Write to a person's phones; the message's id. Only inside a write transaction. Raises Refusal, Missing."""
    person = people.one(db, person_id)
    if person is None:
        raise Missing(person_id)
    if given.get("limb_id") and given["limb_id"] not in {limb["id"] for limb in limbs.of_person(db, person_id)}:
        raise Missing(given["limb_id"])
    # Whoever writes alone is written to alone, unless staff say otherwise.
    to = given.get("to") or ("wearer" if person["own_log"] else "all")
    live = [one for one in devices.of_person(db, person_id) if not one["revoked_at"] and reaches(one["role"], to)]
    if not live:
        raise Refusal("to", NOBODY, NOBODY)
    values = {
        "person_id": person_id,
        "limb_id": given.get("limb_id"),
        "kind": given["kind"],
        "text": (given.get("text") or "").strip() or None,
        "choices": [one.strip() for one in given.get("choices") or []],
        "for_role": to,
        "by_staff": staff_id,
    }
    message_id = message.add(db, values, now)
    audit.record(db, now, f"staff:{staff_id}", "message.add", f"person:{person_id}", message_id)
    return message_id


def withdraw(db: Database, message_id: str, staff_id: str, now: datetime) -> None:
    """Take a message back: phones that have it say so, an answer that comes all the same is kept and marked."""
    about = _known(db, message_id)
    if any(one["event"] == "withdrawn" for one in message.events_of(db, [message_id])[message_id]):
        raise Refusal("message", "This was taken back already.")
    message.event(db, message_id, "withdrawn", now, by_staff=staff_id)
    audit.record(db, now, f"staff:{staff_id}", "message.withdraw", f"person:{about['person_id']}", message_id)


def read(db: Database, message_id: str, staff_id: str, now: datetime) -> None:
    """Somebody at the clinic has read the answers that came by now: the phones hear who and when."""
    about = _known(db, message_id)
    if not _unread(message.events_of(db, [message_id])[message_id]):
        raise Refusal("message", "There is nothing new to read.")
    _looked(db, about, staff_id, now)
    _settle(db, about["person_id"], staff_id, now)


def read_all(db: Database, person_id: str, staff_id: str, now: datetime) -> None:
    """As `read`, for every answer of a person: somebody dealt with the row that stood for them."""
    for about in message.of_people(db, [person_id]):
        if _unread(message.events_of(db, [about["id"]])[about["id"]]):
            _looked(db, about, staff_id, now)


def _known(db: Database, message_id: str) -> Row:
    about = message.one(db, message_id)
    if about is None:
        raise Missing(message_id)
    return about


def _looked(db: Database, about: Row, staff_id: str, now: datetime) -> None:
    message.event(db, about["id"], "looked", now, by_staff=staff_id)
    audit.record(db, now, f"staff:{staff_id}", "message.read", f"person:{about['person_id']}", about["id"])


def _unread(events: Sequence[Row]) -> list[Row]:
    """Answers that came since somebody at the clinic looked."""
    last = max((n for n, one in enumerate(events) if one["event"] == "looked"), default=-1)
    return [one for one in events[last + 1 :] if one["event"] == "answer"]


def _settle(db: Database, person_id: str, staff_id: str, now: datetime) -> None:
    """With nothing left to read, the row that stood for it is closed."""
    found = message.events_of(db, [one["id"] for one in message.of_people(db, [person_id])])
    if any(_unread(events) for events in found.values()):
        return
    for limb in limbs.of_person(db, person_id):
        for one in signals.unclosed(db, [limb["id"]])[limb["id"]]:
            if one["kind"] == WAITS:
                before = {"status": one["status"], "snoozed_until": one["snoozed_until"]}
                signals.event(db, one["id"], now, "close", staff_id, before=before, outcome="Read")
                signals.set_status(db, one["id"], status="closed", snoozed_until=None)
        reassess.rank(db, limb["id"])


# From the phones


def keep_answers(db: Database, device: Device, raw: Sequence[Any], now: datetime) -> list[Row]:
    """Keep what a phone answers, once each; a receipt for each in order. Only inside a write transaction."""
    receipts: list[Row] = []
    for one in raw:
        given = one.get("id") if isinstance(one, dict) else None
        receipt: Row = {"id": given if isinstance(given, str) else None, "status": "refused", "errors": {}}
        receipts.append(receipt)
        try:
            receipt["status"] = _keep(db, device, answer_of(one), now)
        except Refused as refused:
            receipt["errors"] = refused.errors
        except Refusal as refusal:
            receipt["errors"] = {refusal.field: [refusal.words]}
    return receipts


def _keep(db: Database, device: Device, given: Row, now: datetime) -> str:
    if given["person_id"] not in device.person_ids:
        raise Refusal("person_id", "This phone does not write for this person.")
    about = message.one(db, given["message_id"])
    # One that another phone brought after a restore says no more whom else it was for.
    may = about is None or about["brought_by"] is not None or reaches(device.role, about["for_role"])
    if not may or (about and about["person_id"] != given["person_id"]):
        raise Refusal("message_id", "This phone has no such message.")
    body = {name: given[name] for name in ("choice", "text", "checkin_id") if given.get(name)}
    before = message.kept(db, [given["id"]]).get(given["id"])
    if before:
        same = (before["message_id"], before["event"], before["body"]) == (given["message_id"], given["event"], body)
        if same:
            return "already"
        raise Refusal("id", "A different answer already has this id.")
    if about is None:
        about = _brought(db, device, given, now)
    allowed = PHOTO_ANSWERS if about["kind"] == "photo" else about["choices"]
    if body.get("choice") and body["choice"] not in allowed:
        raise Refusal("choice", "This answer was not among those to choose from.")
    said = message.FromPhone(given["id"], body, device.id, given["said_at"])
    message.event(db, about["id"], given["event"], now, phone=said)
    if given["event"] == "answer":
        _row(db, about, body, now)
    return "kept"


def _brought(db: Database, device: Device, given: Row, now: datetime) -> Row:
    """A message that the clinic's restored file does not know, as the phone has it."""
    copy = given.get("message")
    if given["event"] != "answer" or not copy:
        raise Refusal("message_id", "The clinic no longer has this message.")
    values = {
        "id": given["message_id"],
        "person_id": given["person_id"],
        "limb_id": None,
        "kind": copy["kind"],
        "text": copy.get("text"),
        "choices": copy["choices"],
        "for_role": device.role,
        "by_staff": "",
        "brought_by": device.id,
    }
    message.add(db, values, now)
    audit.record(db, now, f"device:{device.id}", "message.brought", f"person:{given['person_id']}", given["message_id"])
    return values


def _row(db: Database, about: Row, body: Row, now: datetime) -> None:
    """An answer that waits is a row of the clinic."""
    limb_ids = [limb["id"] for limb in limbs.of_person(db, about["person_id"])]
    if not limb_ids:
        return
    limb_id = about["limb_id"] or limb_ids[0]
    told = [_answer_said(body)]
    words: Row = {"because": in_english(WORDS, told, WAITS), "sentences": sentences_to_json(told)}
    known = next((one for one in signals.unclosed(db, [limb_id])[limb_id] if one["kind"] == WAITS), None)
    if known:
        signals.event(db, known["id"], now, "reported-again", **words, evidence=[])
        signals.set_status(db, known["id"], status="open", snoozed_until=None, **words)
    else:
        opened: Row = {"level": "call", "since": now.date().isoformat(), **words, "evidence": []}
        signals.open_new(db, limb_id, now, WAITS, opened)
    reassess.rank(db, limb_id)


def _answer_said(body: Row) -> Sentence:
    """An answer to a request for a photo has codes of its own; any other is in the words of who asked and answered."""
    choice, text = body.get("choice"), body.get("text")
    if choice not in PHOTO_WORDS:
        return sentence("message.waits", answer=answer_words(body))
    return sentence(f"message.{choice}-and-words", text=text) if text else sentence(f"message.{choice}")


def answer_words(body: Row) -> str:
    choice = PHOTO_WORDS.get(body.get("choice", ""), body.get("choice"))
    return ". ".join(part for part in (choice, body.get("text")) if part)


# What each side reads


def for_phone(db: Database, device: Device, now: datetime) -> list[Row]:
    """The messages of the last weeks that this phone may see, oldest first.

    Of people who write for themselves a caregiver's phone sees no answers but its own.
    """
    names = staff.names(db)
    alone = {one for one in device.person_ids if device.role == "caregiver" and (people.one(db, one) or {})["own_log"]}
    since = (now - timedelta(days=DAYS_SHOWN)).isoformat()
    rows = [one for one in message.of_people(db, device.person_ids, since) if reaches(device.role, one["for_role"])]
    events = message.events_of(db, [one["id"] for one in rows])
    found = []
    for row in reversed(rows):
        life = events[row["id"]]
        shown = [
            one
            for one in life
            if one["event"] == "answer" and (one["device_id"] == device.id or row["person_id"] not in alone)
        ]
        found.append(
            {
                "id": row["id"],
                "person_id": row["person_id"],
                "limb_id": row["limb_id"],
                "kind": row["kind"],
                "text": row["text"],
                "choices": row["choices"],
                "by": names.get(row["by_staff"], ""),
                "at": row["created_at"],
                "withdrawn": any(one["event"] == "withdrawn" for one in life),
                "answers": [_answer(one, life, names) | {"mine": one["device_id"] == device.id} for one in shown],
            }
        )
    return found


def for_staff(db: Database, person_id: str, until: str | None = None) -> list[Row]:
    """A person's messages, newest first, with what became of each; `until` as in a replay."""
    names = staff.names(db)
    phones = {one["id"]: one for one in devices.of_person(db, person_id)}
    rows = message.of_people(db, [person_id], until=until)
    events = message.events_of(db, [one["id"] for one in rows], until)
    found = []
    for row in rows:
        life = events[row["id"]]
        answers = [one for one in life if one["event"] == "answer"]
        seen = [one for one in life if one["event"] == "seen"]
        back = next((one["at"] for one in life if one["event"] == "withdrawn"), None)
        live = any(not one["revoked_at"] and reaches(one["role"], row["for_role"]) for one in phones.values())
        found.append(
            {name: row[name] for name in ("id", "kind", "text", "choices", "limb_id")}
            | {
                "to": row["for_role"],
                "by": names.get(row["by_staff"], row["by_staff"]),
                "at": row["created_at"],
                "withdrawn_at": back,
                "brought": row["brought_by"] is not None,
                "seen": [{"by": _phone(phones, one), "at": one["said_at"] or one["at"]} for one in seen],
                "answers": [
                    _answer(one, life, names)
                    | {"by": _phone(phones, one), "received_at": one["at"], "late": bool(back and one["at"] >= back)}
                    for one in answers
                ],
                "unread": len(_unread(life)),
                "stands": _stands(answers, seen, back, live),
            }
        )
    return found


def _stands(answers: Sequence[Row], seen: Sequence[Row], back: str | None, live: bool) -> str:
    if answers:
        return "answered"
    if back:
        return "withdrawn"
    if seen:
        return "seen"
    return "waiting" if live else "nobody"  # every phone that could get it was shut out


def _phone(phones: dict[str, Row], one: Row) -> Row:
    known = phones.get(one["device_id"] or "", {})
    return {"role": known.get("role"), "label": known.get("label")}


def _answer(one: Row, life: Sequence[Row], names: dict[str, str]) -> Row:
    """An answer, and who at the clinic read it and when; nothing of that while nobody has."""
    after = life[life.index(one) + 1 :]
    looked = next((each for each in after if each["event"] == "looked"), None)
    return {
        "id": one["id"],
        "choice": one["body"].get("choice"),
        "text": one["body"].get("text"),
        "checkin_id": one["body"].get("checkin_id"),
        "said_at": one["said_at"],
        "read_at": looked["at"] if looked else None,
        "read_by": names.get(looked["by_staff"], "") if looked else None,
    }
