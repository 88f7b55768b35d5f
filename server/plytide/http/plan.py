"""What may be planned for a limb, and what it needs at hand."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict
from datetime import date
from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.guards import STAFF
from plytide.engine.checklists import Check
from plytide.engine.facts import Facts
from plytide.engine.planner import Item, Option, plan_of, stock
from plytide.engine.reasons import CODES
from plytide.engine.remake import Clock
from plytide.export.making import lines
from plytide.http.asked import asked_choice, asked_day
from plytide.http.assessment import assessed, known_by
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.decisions import decisions_of
from plytide.http.language import said_assessment, said_words
from plytide.http.limb import seen_limb
from plytide.http.route import DAY, Routes, one_of
from plytide.storage import decisions
from plytide.storage import history as histories
from plytide.wire.history import estimate, reason
from plytide.work import making_state, reassess

route = Routes("plan", "/api/clinic", called="planner")


def day_text(day: date | None) -> str | None:
    return day.isoformat() if day else None


def option(one: Option) -> dict[str, Any]:
    return {
        "code": one.code,
        "words": one.words,
        "because": one.because,
        "on": day_text(one.on),
        "until": day_text(one.until),
        "expected_mm": estimate(one.expected),
        "makes": one.makes,
        "against": checks(one.against),
        "good_days": estimate(one.good_days),
    }


def clock(made: Clock | None, day: date) -> dict[str, Any] | None:
    """When the definitive socket after a diagnostic one is planned."""
    if made is None:
        return None
    stands = "missed" if made.missed(day) else "near" if made.near(day) else "ahead"
    words = said_words(made.sentences(day), made.words(day))
    return {"from": made.first.isoformat(), "to": made.last.isoformat(), "stands": stands, "words": words}


def checks(lines: tuple[Check, ...]) -> list[dict[str, Any]]:
    return [asdict(line) for line in lines]


def items(lines: tuple[Item, ...]) -> list[dict[str, Any]]:
    return [asdict(line) for line in lines]


@route("GET", "/limbs/<limb_id>/plan", STAFF, query={"as_of": DAY, "reason": one_of(CODES)}, cost="heavy")
def plan(limb_id: str) -> Response:
    """What may be planned for a limb, with reasons, what is missing, checklists and stock."""
    seen_limb(limb_id)
    as_of = asked_day("as_of")
    history, found = assessed(limb_id, as_of)
    thresholds = reassess.thresholds_at(clinic_db(), known_by(as_of))
    made = plan_of(history, found, thresholds, asked_choice("reason", CODES))
    record_read("plan.read", f"limb:{limb_id}")
    assessment = said_assessment(found)
    return answer(
        {
            "as_of": assessment["as_of"],
            "readiness": assessment["readiness"],
            "reading_tags": assessment["reading_tags"],
            "growth": assessment["growth"],
            "dialysis_swing_pct": assessment["volume"]["dialysis_swing_pct"],
            "margin_mm": thresholds.steady_margin_mm,
            "recast": assessment["recast"],
            "fit_note": made.fit_note,
            "missing": [reason(one) for one in made.missing],
            "outlook": [
                {"days": days, "if_cast_today_mm": estimate(now), "if_cast_in_21d_mm": estimate(later)}
                for days, now, later in made.outlook
            ],
            "reasons_to_recast": [asdict(cause) for cause in made.reasons],
            "reason": asdict(made.reason),
            "remake": clock(made.remake, found.as_of),
            "options": [option(one) for one in made.options],
            "checklists": {
                "reason": checks(made.for_reason),
                "direct": checks(made.direct),
                "cast": checks(made.cast),
                "child": checks(made.child),
            },
            "stock": {"this": items(made.stock), "all_planned": all_planned()},
            "decisions": decisions_of(limb_id),
            "makings": made_lines(limb_id, known_by(asked_day("as_of"))),
        }
    )


def made_lines(limb_id: str, until: str | None) -> list[str]:
    """How the limb's sockets were made, newest first, by the record of each making."""
    return list(lines(making_state.of_limb(clinic_db(), limb_id, until)))


def all_planned() -> list[dict[str, Any]]:
    """What all planned recasts together need."""
    db, total = clinic_db(), Counter[tuple[str, str]]()
    now = settings().now().date()
    for limb_id in decisions.planned(db):
        history = histories.history(db, limb_id)
        if history:
            for item in stock(Facts.of(history), now):
                total[item.what, item.size] += item.count
    return [{"what": what, "size": size, "count": count} for (what, size), count in sorted(total.items())]


@route("GET", "/stock", STAFF, cost="heavy")
def stock_() -> Response:
    """What all planned recasts need at hand."""
    record_read("stock.read", "planned recasts")
    return answer({"items": all_planned(), "recasts": len(decisions.planned(clinic_db()))})
