"""A letter is kept as it was sent; a template is the clinic's own or ours."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage import audit, letter, staff
from plytide.wire.letter import KINDS
from plytide.work.letter_templates import TEMPLATES
from plytide.work.refusal import Missing, Refusal

TAKEN = "A letter with this id is kept already, with other words. Open the page anew and write it again."


def templates(db: Database) -> list[dict[str, Any]]:
    """Every kind with the words that count, and whose they are. Reads only."""
    own, names = letter.templates(db), staff.names(db)
    return [_template(kind, own.get(kind), names) for kind in KINDS]


def _template(kind: str, row: dict[str, Any] | None, names: dict[str, str]) -> dict[str, Any]:
    template = {"kind": kind, "name": KINDS[kind], "ours": TEMPLATES[kind]}
    if row is None:
        return {**template, "text": TEMPLATES[kind], "own": False, "by": None, "at": None}
    by = names.get(row["by_staff"], row["by_staff"])
    own = row["text"] is not None
    return {**template, "text": row["text"] if own else TEMPLATES[kind], "own": own, "by": by, "at": row["created_at"]}


def template_text(db: Database, kind: str) -> str:
    """The words that count for a kind. Reads only."""
    own = letter.templates(db).get(kind)
    return (own["text"] if own else None) or TEMPLATES[kind]


def change_template(db: Database, kind: str, text: str | None, staff_id: str, now: datetime) -> None:
    """Only inside a write transaction. Raises Missing for a kind there is not."""
    if kind not in KINDS:
        raise Missing(kind)
    letter.change_template(db, kind, text, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "letter-template.change", "clinic", kind)


def keep(
    db: Database, limb: dict[str, Any], given: dict[str, Any], content: dict[str, Any], staff_id: str, now: datetime
) -> bool:
    """Keep a letter with every word on its paper; False where it was kept before. Only inside a write transaction."""
    known = letter.one(db, given["id"])
    if known:
        same = known["limb_id"] == limb["id"] and all(known["content"][name] == content[name] for name in SAID)
        if not same:
            raise Refusal("id", TAKEN)
        return False
    replaces = given.get("replaces")
    before = letter.one(db, replaces) if replaces else None
    if replaces and (before is None or before["person_id"] != limb["person_id"]):
        raise Refusal("replaces", "The letter this one takes the place of is not one of this person’s.")
    row = {"id": given["id"], "person_id": limb["person_id"], "limb_id": limb["id"], "kind": given["kind"]}
    letter.add(db, {**row, "content": content, "replaces": replaces}, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "letter.add", f"person:{limb['person_id']}", given["id"])
    return True


SAID = ("to", "subject", "text")  # what makes two letters of one id the same
