"""Recast planner, decisions, chair time, stock, and the clinic's own settings."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict
from datetime import date
from typing import Any

from flask import Blueprint, Response

from plytide import access, rounds
from plytide.access import Denied, clinic_db, not_found, settings, who
from plytide.chair_time import Forecast, chair_time
from plytide.planner import Check, Item, Option, plan_of, stock
from plytide.routes.body import answer, json_object
from plytide.routes.clinic import asked_day, assessed, decisions_of, record_read, seen_limb
from plytide.signals import Facts
from plytide.store import audit, clinics, decisions, histories, people
from plytide.store.sqlite import write
from plytide.thresholds import DEFAULTS, RANGES, ThresholdFault, Thresholds
from plytide.wire.clinic import DecisionSchema, SettingsSchema, read
from plytide.wire.history import assessment_to_json, estimate

bp = Blueprint("planner", __name__, url_prefix="/api/clinic")

BASIS = (
    "From each limb's own forecast of when it will be steady, limbs due now, and recasts already planned. A limb "
    "that can be recast is spread over four weeks (judgement). Intervals are 90 %."
)


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
    }


def checks(lines: tuple[Check, ...]) -> list[dict[str, Any]]:
    return [asdict(line) for line in lines]


def items(lines: tuple[Item, ...]) -> list[dict[str, Any]]:
    return [asdict(line) for line in lines]


@bp.get("/limbs/<limb_id>/plan")
@access.clinic()
def plan(limb_id: str) -> Response:
    """What may be planned for a limb, with reasons, what is missing, checklists and stock."""
    seen_limb(limb_id)
    history, found = assessed(limb_id, asked_day("as_of"))
    thresholds = rounds.thresholds_of(clinics.clinic_row(clinic_db())["settings"])
    made = plan_of(history, found, thresholds)
    record_read("plan.read", f"limb:{limb_id}")
    said = assessment_to_json(found)
    return answer(
        {
            "as_of": said["as_of"],
            "readiness": said["readiness"],
            "margin_mm": thresholds.steady_margin_mm,
            "missing": [asdict(reason) for reason in made.missing],
            "outlook": [
                {"days": days, "if_cast_today_mm": estimate(now), "if_cast_in_21d_mm": estimate(later)}
                for days, now, later in made.outlook
            ],
            "options": [option(one) for one in made.options],
            "checklists": {"direct": checks(made.direct), "cast": checks(made.cast), "child": checks(made.child)},
            "stock": {"this": items(made.stock), "all_planned": all_planned()},
            "decisions": decisions_of(limb_id),
        }
    )


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


@bp.get("/stock")
@access.clinic()
def stock_() -> Response:
    """What all planned recasts need at hand."""
    record_read("stock.read", "planned recasts")
    return answer({"items": all_planned(), "recasts": len(decisions.planned(clinic_db()))})


@bp.post("/limbs/<limb_id>/decisions")
@access.clinic("prosthetist", "manager")
def decide(limb_id: str) -> Response:
    """Record what was decided, why, and how the assessment stood."""
    seen_limb(limb_id)
    given = read(DecisionSchema(), json_object())
    if given.get("planned_on") and given["planned_on"] < given["on"]:
        words = "A recast can't be planned for a day before it was decided."
        raise Denied(422, "invalid", words, fields={"planned_on": [words]})
    _, found = assessed(limb_id, None)
    now = settings().now()
    with write(clinic_db()) as db:
        decision_id = decisions.add(db, limb_id, given, assessment_to_json(found), who().id, now)
        audit.record(db, now, f"staff:{who().id}", "decision.add", f"limb:{limb_id}", decision_id)
    return answer({"id": decision_id}, 201)


@bp.delete("/decisions/<decision_id>")
@access.clinic("prosthetist", "manager")
def take_back(decision_id: str) -> Response:
    """Take a decision back; it stays in the record as taken back."""
    decision = decisions.one(clinic_db(), decision_id)
    if decision is None:
        raise not_found()
    now = settings().now()
    with write(clinic_db()) as db:
        decisions.take_back(db, decision_id, now)
        audit.record(db, now, f"staff:{who().id}", "decision.take-back", f"limb:{decision['limb_id']}", decision_id)
    return answer({"id": decision_id, "taken_back": True})


@bp.get("/chair-time")
@access.clinic()
def chair_time_() -> Response:
    """Recasts the caseload will need in each of the coming eight weeks."""
    db, today = clinic_db(), settings().now().date()
    rows = decisions.forecasts(db)
    plans = decisions.planned(db)
    limbs = [forecast(row, plans.get(row["limb_id"])) for row in rows]
    persons = {row["limb_id"]: row["person"] for row in rows}
    record_read("chair-time.read", f"{len(rows)} limbs")
    return answer(
        {
            "as_of": today.isoformat(),
            "basis": BASIS,
            "weeks": [
                {
                    "from": week.start.isoformat(),
                    "to": date.fromordinal(week.start.toordinal() + 6).isoformat(),
                    "expected": round(week.expected, 2),
                    "low": week.low,
                    "high": week.high,
                    "limbs": [
                        {"limb_id": limb_id, "person": persons[limb_id], "chance": round(chance, 2)}
                        for limb_id, chance in week.chances
                    ],
                }
                for week in chair_time(limbs, today)
            ],
        }
    )


def forecast(row: dict[str, Any], plan: dict[str, Any] | None) -> Forecast:
    settles = row["settles_on"]
    return Forecast(
        limb_id=row["limb_id"],
        state=row["state"],
        provisional=row["purpose"] in ("diagnostic", "preparatory"),
        settles=(
            date.fromisoformat(settles["date"]),
            date.fromisoformat(settles["low"]),
            date.fromisoformat(settles["high"]) if settles["high"] else None,
        )
        if settles
        else None,
        planned_on=date.fromisoformat(plan["planned_on"]) if plan else None,
    )


# The clinic's own numbers and words


def said_settings(kept: dict[str, Any]) -> dict[str, Any]:
    own = kept.get("thresholds", {})
    return {
        "thresholds": {
            name: {
                "value": own.get(name, getattr(DEFAULTS, name)),
                "default": getattr(DEFAULTS, name),
                "low": low,
                "high": high,
                "own": name in own,
            }
            for name, (low, high) in RANGES.items()
        },
        "words": kept.get("words", {}),
        "phone": kept.get("phone"),
        "emergency_number": kept.get("emergency_number", "112"),
        "mail": kept.get("mail"),
    }


@bp.get("/settings")
@access.clinic()
def get_settings() -> Response:
    """The clinic's thresholds and words."""
    return answer(said_settings(clinics.clinic_row(clinic_db())["settings"]))


@bp.patch("/settings")
@access.clinic("prosthetist", "manager")
def change_settings() -> Response:
    """Change thresholds (null puts the default back) and words. Every limb is assessed again."""
    given = read(SettingsSchema(), json_object())
    now = settings().now()
    with write(clinic_db()) as db:
        kept = clinics.clinic_row(db)["settings"]
        if "thresholds" in given:
            own = {**kept.get("thresholds", {}), **given["thresholds"]}
            own = {name: value for name, value in own.items() if value is not None}
            try:
                Thresholds.from_json(own)
            except ThresholdFault as fault:
                field = f"thresholds.{fault.field}"
                raise Denied(422, "invalid", fault.message, fields={field: [fault.message]}) from fault
            kept["thresholds"] = own
        kept |= {name: given[name] for name in ("words", "phone", "emergency_number", "mail") if name in given}
        clinics.save_settings(db, kept)
        if "thresholds" in given:
            people.mark_all_stale(db, now)
        audit.record(db, now, f"staff:{who().id}", "settings.change", "clinic", ",".join(sorted(given)))
    return answer(said_settings(kept))
