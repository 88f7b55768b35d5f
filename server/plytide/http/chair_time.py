"""Recasts the caseload will need in the coming weeks."""

from __future__ import annotations

from datetime import date
from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.guards import STAFF
from plytide.engine.chair_time import Forecast, chair_time
from plytide.engine.remake import clock_of
from plytide.engine.thresholds import Thresholds
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.route import Routes
from plytide.model import Decision, Limb, LimbHistory, Socket
from plytide.storage import clinics, decisions
from plytide.storage import visit as visits
from plytide.work import reassess, visit

route = Routes("chair_time", "/api/clinic", called="planner")

BASIS = (
    "Counted are recasts already planned or decided, definitive sockets due after a diagnostic one, limbs whose socket "
    "no longer serves, and limbs forecast to be steady on a provisional socket; each is named with its reason. What is "
    "due is mostly booked within four weeks, the rest more slowly. All other limbs have the small rate of any later "
    "socket. These rates are judgement. Intervals are 90 %."
)


@route("GET", "/chair-time", STAFF, cost="heavy")
def chair_time_() -> Response:
    """Recasts the caseload will need in each of the coming eight weeks."""
    db, today = clinic_db(), settings().now().date()
    rows, undone = decisions.forecasts(db), decisions.undone(db)
    thresholds = reassess.thresholds_of(clinics.clinic_row(db)["settings"])
    limbs = [forecast(row, undone.get(row["limb_id"]), today, thresholds) for row in rows]
    persons = {row["limb_id"]: row["person"] for row in rows}
    weeks = chair_time(limbs, today)
    own = clinics.clinic_row(db)["settings"]
    coming = visits.next_of(db, {one["id"] for one in persons.values()}, today.isoformat())
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
                        {
                            "limb_id": one.limb_id,
                            "person": persons[one.limb_id],
                            "chance": round(one.chance, 2),
                            "reason": {"code": one.code, "words": one.words},
                            "next_visit": coming.get(persons[one.limb_id]["id"], {}).get("visit_on"),
                        }
                        for one in week.named
                    ],
                    "booked": visit.booked_in(db, week.start, own),
                    "quiet": {"limbs": week.quiet_limbs, "expected": round(week.quiet_expected, 2)},
                }
                for week in weeks
            ],
        }
    )


def forecast(row: dict[str, Any], undone: dict[str, Any] | None, today: date, thresholds: Thresholds) -> Forecast:
    """What chair time needs of one limb, from its kept assessment, the socket worn and the decision not yet done."""
    settles, choice = row["settles_on"], undone["choice"] if undone else None
    planned_on = _day(undone["planned_on"]) if undone else None
    recast = choice is not None and choice not in decisions.NO_RECAST
    purpose, fitted_on = row["worn"] or (None, None)
    worn = (Socket("worn", date.fromisoformat(fitted_on), purpose=purpose),) if purpose and fitted_on else ()
    made = (Decision(date.fromisoformat(undone["on"]), undone["choice"], planned_on),) if undone else ()
    clock = clock_of(LimbHistory(Limb(row["limb_id"]), worn, decisions=made), today, thresholds)
    return Forecast(
        limb_id=row["limb_id"],
        state=row["state"],
        provisional=purpose in ("diagnostic", "preparatory"),
        settles=(
            date.fromisoformat(settles["date"]),
            date.fromisoformat(settles["low"]),
            date.fromisoformat(settles["high"]) if settles["high"] else None,
        )
        if settles
        else None,
        planned_on=planned_on if recast else None,
        decided_on=date.fromisoformat(undone["on"]) if undone and recast and planned_on is None else None,
        not_before=planned_on if not recast else None,
        remake=(clock.first, clock.last) if clock else None,
        since=_day(row["since"]),
        why=row["why"] or "",
    )


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None
