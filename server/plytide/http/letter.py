"""Letters: a draft filled from a template, kept as it was sent, printed again; and the templates themselves."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import seen
from plytide.auth.guards import DECIDERS, STAFF
from plytide.auth.session import who
from plytide.engine.assess import known_then
from plytide.engine.facts import Facts, full
from plytide.export.letter import BASIS, Around, filled, undated, values
from plytide.export.letter_pdf import letter_pdf
from plytide.http.asked import asked_choice
from plytide.http.assessment import assessed
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.decisions import decisions_of
from plytide.http.entry import meanwhile
from plytide.http.limb import seen_limb
from plytide.http.pages import PAPERS, outcome_lines, paper, pdf
from plytide.http.person import contacts_of, seen_person
from plytide.http.plan import made_lines
from plytide.http.route import PDF, Routes, checked_body, one_of
from plytide.model import Assessment
from plytide.storage import clinics, letter, staff
from plytide.storage import limb as limbs
from plytide.storage.sqlite import write
from plytide.wire.letter import FIELDS, KINDS, LetterSchema, TemplateSchema
from plytide.work import contact, reassess
from plytide.work import letter as letters
from plytide.work.refusal import Refusal

route = Routes("letter", "/api/clinic")

MOST_CALLS = 3
MOST_MADE = 2
TEAMS = {"heart_team": "Heart team", "kidney_team": "Kidney team"}


@route("GET", "/letter-templates", STAFF)
def list_templates() -> Response:
    """The words of each kind of letter, and the fields they can ask for."""
    fields = [{"name": name, "says": says} for name, says in FIELDS.items()]
    return answer({"templates": letters.templates(clinic_db()), "fields": fields, "basis": BASIS})


@route("PUT", "/letter-templates/<kind>", DECIDERS, body=TemplateSchema)
def change_template(kind: str) -> Response:
    """The clinic's own words for a kind of letter; null puts ours back. Letters already kept stay as they are."""
    given = checked_body()
    with write(clinic_db()) as db:
        if given.get("was") is not None:
            there = next((one["text"] for one in letters.templates(db) if one["kind"] == kind), None)
            meanwhile({"text": there}, given, {"text": given["was"]})
        letters.change_template(db, kind, given["text"], who().id, settings().now())
    template = next(one for one in letters.templates(clinic_db()) if one["kind"] == kind)
    return answer(template | {"undated": undated(template["text"])})


@route("GET", "/limbs/<limb_id>/letter-draft", STAFF, query={"kind": one_of(KINDS)}, cost="heavy")
def draft(limb_id: str) -> Response:
    """A letter filled from its template, to be read, mended and kept; nothing is kept yet."""
    limb = seen_limb(limb_id)
    kind = asked_choice("kind", tuple(KINDS)) or next(iter(KINDS))
    person = seen_person(limb["person_id"])
    facts, found = read_as_of_today(limb_id)
    around = around_of(limb, person)
    text, lacks = filled(letters.template_text(clinic_db(), kind), values(facts, found, around))
    record_read("letter.draft", f"limb:{limb_id}")
    return answer(
        {
            "kind": kind,
            "to": addressee(kind, person),
            "subject": f"Residual limb and prosthesis, as of {full(found.as_of)}",
            "text": text,
            "lacks": [{"name": name, "says": FIELDS[name]} for name in lacks],
            "undated": undated(text),
            "basis": BASIS,
            "kinds": [{"kind": each, "name": name} for each, name in KINDS.items()],
        }
    )


def read_as_of_today(limb_id: str) -> tuple[Facts, Assessment]:
    history, found = assessed(limb_id, None)
    return Facts.of(known_then(history, [found.as_of])[0][0]), found


def around_of(limb: dict[str, Any], person: dict[str, Any]) -> Around:
    db = clinic_db()
    clinic = clinics.clinic_row(db)
    calls = [
        (date.fromisoformat(one["created_at"][:10]), contact.words(one["result"], one["said"], one["agreed"]))
        for one in contacts_of(person["id"])[:MOST_CALLS]
    ]
    others = [one["id"] for one in limbs.of_person(db, person["id"]) if one["id"] != limb["id"]]
    return Around(
        person=person["name"],
        clinic=clinic["name"],
        by=staff.names(db)[who().id],
        physician=person["physician"],
        thresholds=reassess.thresholds_of(clinic["settings"]),
        decisions=decisions_of(limb["id"]),
        calls=calls,
        makings=made_lines(limb["id"], None)[:MOST_MADE],
        outcomes=[f"{what}: {words}" for what, words in outcome_lines(limb["id"], settings().now().date())],
        others=[read_as_of_today(one) for one in others],
    )


def addressee(kind: str, person: dict[str, Any]) -> str:
    if kind == "physician":
        return str(person["physician"] or person["referrer"] or "")
    return TEAMS.get(kind, "")


@route("POST", "/limbs/<limb_id>/letters", DECIDERS, body=LetterSchema, done=201)
def keep(limb_id: str) -> Response:
    """Keep a letter as it is sent. It can't be changed: another letter can take its place."""
    limb = seen_limb(limb_id)
    person = seen_person(limb["person_id"])
    given, now = checked_body(), settings().now()
    bare = undated(given["text"])
    if bare and not given.get("undated_seen"):
        raise Refusal(
            "text", f"“{bare[0]}” has a figure and no date. Add its date, or press the button again to keep it so."
        )
    with write(clinic_db()) as db:
        clinic = clinics.clinic_row(db)
        before = letter.one(db, given["replaces"]) if given.get("replaces") else None
        content = {
            "clinic": clinic["name"],
            "reach": clinic["settings"].get("phone") or "",
            "by": staff.names(db)[who().id],
            "on": full(now.date()),
            "about": about(person),
            "to": (given.get("to") or "").strip(),
            "subject": given["subject"].strip(),
            "text": given["text"].strip(),
            "replaces": f"This letter takes the place of ours of {before['content']['on']}." if before else "",
            "basis": BASIS,
        }
        letters.keep(db, limb, given, content, who().id, now)
    return answer({"id": given["id"]}, 201)


def about(person: dict[str, Any]) -> str:
    """Whose letter it is, so that it finds its way into the right record."""
    born = f"born {full(date.fromisoformat(person['born_on']))}" if person["born_on"] else "birth date not entered"
    return ", ".join(filter(None, (person["name"], born, person["record_number"] and f"no. {person['record_number']}")))


@route("GET", "/limbs/<limb_id>/letters", STAFF)
def list_letters(limb_id: str) -> Response:
    """The letters kept of a limb's person, newest first, without their text."""
    limb = seen_limb(limb_id)
    record_read("letters.read", f"person:{limb['person_id']}")
    rows = letter.of_person(clinic_db(), limb["person_id"])
    gone = {row["replaces"] for row in rows}
    return answer({"letters": [in_short(row) | {"replaced": row["id"] in gone} for row in rows]})


def in_short(row: dict[str, Any]) -> dict[str, Any]:
    about = {name: row[name] for name in ("id", "limb_id", "kind", "replaces")}
    content = {name: row["content"][name] for name in ("to", "subject", "by", "on")}
    return about | content | {"name": KINDS.get(row["kind"], row["kind"]), "at": row["created_at"]}


def seen_letter(letter_id: str) -> dict[str, Any]:
    """A letter of the caller's own clinic. Raises 404."""
    return seen(letter.one(clinic_db(), letter_id))


@route("GET", "/letters/<letter_id>", STAFF)
def get_letter(letter_id: str) -> Response:
    """A letter as it was sent."""
    row = seen_letter(letter_id)
    record_read("letter.read", f"person:{row['person_id']}")
    return answer(in_short(row) | {"person_id": row["person_id"], "content": row["content"]})


@route("GET", "/letters/<letter_id>/letter.pdf", STAFF, query={"paper": one_of(PAPERS)}, cost="heavy", gives=PDF)
def letter_as_pdf(letter_id: str) -> Response:
    """The same on paper: one sheet where it fits, else numbered ones."""
    row = seen_letter(letter_id)
    record_read("letter.print", f"person:{row['person_id']}")
    return pdf(letter_pdf(row["content"], datetime.fromisoformat(row["created_at"]), paper()), "letter")
