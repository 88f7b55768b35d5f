"""The visit page, the payer's page and a child's growth, as JSON for the screen and as PDF for paper."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any, Literal, cast

from flask import Blueprint, Response

from plytide import access
from plytide.access import clinic_db, not_found
from plytide.core.thickness import stack_thickness
from plytide.exchange.paper import payer_pdf, visit_pdf
from plytide.exchange.visit_page import Head, VisitPage, decided_words, payer_page, visit_page
from plytide.model import Assessment
from plytide.review import known_then
from plytide.routes.body import answer
from plytide.routes.clinic import asked_choice, asked_day, assessed, decisions_of, known_by, record_read, seen_limb
from plytide.signals import Facts
from plytide.store import clinics, people
from plytide.wire import nouns

bp = Blueprint("pages", __name__, url_prefix="/api/clinic")

PAPERS = ("a4", "letter")


def about(limb_id: str) -> tuple[Facts, str, Assessment]:
    """(facts, the person's name, the assessment) of a limb on the asked day. Raises 404."""
    row = seen_limb(limb_id)
    person = people.person(clinic_db(), row["person_id"])
    if person is None:
        raise not_found()
    history, found = assessed(limb_id, asked_day("as_of"))
    standing = known_then(history, [found.as_of])[0][0]
    return Facts.of(standing), person["name"], found


def pdf(data: bytes, name: str) -> Response:
    response = Response(data, mimetype="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response


def paper() -> Literal["a4", "letter"]:
    return cast(Literal["a4", "letter"], asked_choice("paper", PAPERS) or "a4")


def visit_of(limb_id: str) -> tuple[VisitPage, Assessment]:
    facts, name, found = about(limb_id)
    decided = decided_words(decisions_of(limb_id, known_by(asked_day("as_of"))))
    return replace(visit_page(facts, name, found), decided=decided), found


@bp.get("/limbs/<limb_id>/visit-page")
@access.clinic()
def visit(limb_id: str) -> Response:
    """What to know before the person comes in."""
    page, found = visit_of(limb_id)
    record_read("visit-page.read", f"limb:{limb_id}")
    return answer({"as_of": found.as_of.isoformat(), **asdict(page)})


@bp.get("/limbs/<limb_id>/visit-page.pdf")
@access.clinic()
def visit_as_pdf(limb_id: str) -> Response:
    """The same on one sheet of A4 or Letter."""
    page, found = visit_of(limb_id)
    record_read("visit-page.print", f"limb:{limb_id}")
    clinic = clinics.clinic_row(clinic_db())["name"]
    return pdf(visit_pdf(page, found.band, found.as_of, clinic, paper()), "visit-page")


def payer_of(limb_id: str) -> tuple[tuple[Head, ...], Facts, str, Assessment]:
    facts, name, found = about(limb_id)
    return payer_page(facts, name, found), facts, name, found


@bp.get("/limbs/<limb_id>/payer-page")
@access.clinic()
def payer(limb_id: str) -> Response:
    """Supporting evidence for the payer's file, under the usual heads."""
    heads, _, name, found = payer_of(limb_id)
    record_read("payer-page.read", f"limb:{limb_id}")
    return answer({"as_of": found.as_of.isoformat(), "who": name, "heads": [asdict(head) for head in heads]})


@bp.get("/limbs/<limb_id>/payer-page.pdf")
@access.clinic()
def payer_as_pdf(limb_id: str) -> Response:
    """The same on one sheet."""
    heads, facts, name, found = payer_of(limb_id)
    record_read("payer-page.print", f"limb:{limb_id}")
    limb = f"{facts.history.limb.side.capitalize()} {facts.history.limb.level.replace('_', ' ')}"
    clinic = clinics.clinic_row(clinic_db())["name"]
    return pdf(payer_pdf(heads, name, limb, found.as_of, clinic, paper()), "payer-page")


@bp.get("/limbs/<limb_id>/growth")
@access.clinic()
def growth(limb_id: str) -> Response:
    """A child's growth: the stack over time, height and weight where given, signs of an outgrown socket or of bone."""
    facts, _, found = about(limb_id)
    watched = {"cannot_get_fully_in", "bony_point", "stretched_skin"}
    rows = facts.checkins(facts.between(facts.dates[0], found.as_of)) if facts.dates else []
    signs: list[dict[str, Any]] = [
        {"date": one.date.isoformat(), "id": one.id, "signs": sorted(watched & set(one.signs))}
        for one in rows
        if watched & set(one.signs)
    ]
    measured = people.measurements_of(clinic_db(), limb_id)
    record_read("growth.read", f"limb:{limb_id}")
    person = people.limb(clinic_db(), limb_id)
    return answer(
        {
            "as_of": found.as_of.isoformat(),
            "child": facts.is_child(found.as_of),
            "stack": [{"date": one.date.isoformat(), "mm": round(stack_thickness(one.stack)[0], 2)} for one in rows],
            "weight": [{"date": one.date.isoformat(), "kg": one.weight_kg} for one in rows if one.weight_kg],
            "measured": [
                {"on": row["measured_on"], "height_cm": row["height_cm"], "weight_kg": row["weight_kg"]}
                for row in measured
                if row["height_cm"] or row["weight_kg"]
            ],
            "signs": signs,
            "outgrown": [signal.because for signal in found.signals if signal.kind == "outgrown"],
            "family_visits": family_visits(person["person_id"]) if person else [],
        }
    )


def family_visits(person_id: str) -> list[dict[str, Any]]:
    """Coming visits of everybody whose logs the same caregiver keeps, so that one trip can serve several."""
    return [
        nouns.visit(row) | {"person": row["name"]}
        for row in people.visits_of_family(clinic_db(), person_id, access.settings().now().date().isoformat())
    ]
