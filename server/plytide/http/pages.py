"""The visit page, the payer's page and a child's growth, as JSON for the screen and as PDF for paper."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import date
from typing import Any, Literal, cast

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import not_found
from plytide.auth.guards import STAFF
from plytide.engine.assess import known_then
from plytide.engine.core.thickness import stack_thickness
from plytide.engine.facts import Facts
from plytide.engine.staff_words import LEVEL, word_of
from plytide.export import outcome_measure
from plytide.export.making import payer_lines
from plytide.export.pdf import payer_pdf, visit_pdf
from plytide.export.visit_page import Head, Line, VisitPage, decided_words, payer_page, visit_page
from plytide.http.asked import asked_choice, asked_day
from plytide.http.assessment import assessed, known_by
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.decisions import decisions_of
from plytide.http.limb import seen_limb
from plytide.http.route import DAY, PDF, Routes, one_of
from plytide.model import Assessment
from plytide.storage import clinics
from plytide.storage import limb as limbs
from plytide.storage import measurement as measurements
from plytide.storage import outcome_measure as measured
from plytide.storage import person as people
from plytide.storage import visit as visits
from plytide.wire import visit as visit_wire
from plytide.work import making_state

route = Routes("pages", "/api/clinic")

PAPERS = ("a4", "letter")
MOST_MADE = 1  # the newest making stands on the payer's page


def about(limb_id: str) -> tuple[Facts, str, Assessment]:
    """(facts, the person's name, the assessment) of a limb on the asked day. Raises 404."""
    row = seen_limb(limb_id)
    person = people.one(clinic_db(), row["person_id"])
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
    page = visit_page(facts, name, found)
    return replace(page, decided=decided, recent=(*page.recent, *outcome_lines(limb_id, found.as_of))), found


def outcome_lines(limb_id: str, day: date) -> list[tuple[str, str]]:
    """What was measured at the clinic and was known then."""
    return outcome_measure.lines(measured.of_limb(clinic_db(), limb_id, known_by(asked_day("as_of"))), day)


@route("GET", "/limbs/<limb_id>/visit-page", STAFF, query={"as_of": DAY})
def visit(limb_id: str) -> Response:
    """What to know before the person comes in."""
    page, found = visit_of(limb_id)
    record_read("visit-page.read", f"limb:{limb_id}")
    return answer({"as_of": found.as_of.isoformat(), **asdict(replace(page, strip=None))})  # the screen draws its own


@route(
    "GET",
    "/limbs/<limb_id>/visit-page.pdf",
    STAFF,
    query={"as_of": DAY, "paper": one_of(PAPERS)},
    cost="heavy",
    gives=PDF,
)
def visit_as_pdf(limb_id: str) -> Response:
    """The same on one sheet of A4 or Letter."""
    page, found = visit_of(limb_id)
    record_read("visit-page.print", f"limb:{limb_id}")
    clinic = clinics.clinic_row(clinic_db())["name"]
    return pdf(visit_pdf(page, found.limb_band, found.as_of, clinic, paper()), "visit-page")


def payer_of(limb_id: str) -> tuple[tuple[Head, ...], Facts, str, Assessment]:
    facts, name, found = about(limb_id)
    made = payer_lines(making_state.of_limb(clinic_db(), limb_id, known_by(asked_day("as_of"))), MOST_MADE)
    heads = payer_page(facts, name, found)
    if walked := outcome_lines(limb_id, found.as_of):
        told = tuple(Line(f"{what}: {words}", ("clinic",)) for what, words in walked)
        heads = (*heads[:-1], Head("Measured at the clinic", told), heads[-1])
    if made:
        lines = tuple(Line(one, ("clinic",)) for one in made)
        heads = (*heads[:-1], Head("How the socket was made", lines), heads[-1])
    return heads, facts, name, found


@route("GET", "/limbs/<limb_id>/payer-page", STAFF, query={"as_of": DAY})
def payer(limb_id: str) -> Response:
    """Supporting evidence for the payer's file, under the usual heads."""
    heads, _, name, found = payer_of(limb_id)
    record_read("payer-page.read", f"limb:{limb_id}")
    return answer({"as_of": found.as_of.isoformat(), "who": name, "heads": [asdict(head) for head in heads]})


@route(
    "GET",
    "/limbs/<limb_id>/payer-page.pdf",
    STAFF,
    query={"as_of": DAY, "paper": one_of(PAPERS)},
    cost="heavy",
    gives=PDF,
)
def payer_as_pdf(limb_id: str) -> Response:
    """The same on one sheet."""
    heads, facts, name, found = payer_of(limb_id)
    record_read("payer-page.print", f"limb:{limb_id}")
    limb = f"{facts.history.limb.side.capitalize()} {word_of(LEVEL, facts.history.limb.level)}"
    clinic = clinics.clinic_row(clinic_db())["name"]
    return pdf(payer_pdf(heads, name, limb, found.as_of, clinic, paper()), "payer-page")


@route("GET", "/limbs/<limb_id>/growth", STAFF, query={"as_of": DAY})
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
    measured = measurements.of_limb(clinic_db(), limb_id)
    record_read("growth.read", f"limb:{limb_id}")
    person = limbs.one(clinic_db(), limb_id)
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
        visit_wire.to_json(row) | {"person": row["name"]}
        for row in visits.of_family(clinic_db(), person_id, settings().now().date().isoformat())
    ]
