"""The round: limbs with news are assessed in one batch, and what was said is kept.

Takes a clinic's file, gives nothing back but rows. Runs after a sync, before a worklist is shown if news is
waiting, and from a background thread that also brings every limb to a new day.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

from sqlite_utils import Database

from plytide import notify, review
from plytide.model import SIGNAL_LEVELS, Assessment, LimbHistory
from plytide.store import assessments, clinics, histories, signals
from plytide.store.sqlite import write
from plytide.thresholds import DEFAULTS, Thresholds
from plytide.wire.history import assessment_to_json

log = logging.getLogger("plytide")

SPARK_DAYS = 42
BATCH = 200

#: What is said of a limb with no unclosed signal, by state.
QUIET = {
    "gathering": "Too little logged yet to say more.",
    "changing": "Volume is changing, within what is expected.",
    "settling": "Volume is settling.",
    "steady": "Nothing to act on: the coming four weeks' change is expected to stay within the margin.",
    "due": "The socket no longer serves.",
    "held": "A recast is on hold.",
}


def thresholds_of(settings: dict[str, object]) -> Thresholds:
    """The clinic's own thresholds, or the defaults."""
    own = settings.get("thresholds")
    return Thresholds.from_json(own) if isinstance(own, dict) else DEFAULTS


def why_of(said: dict[str, Any], unclosed: Sequence[dict[str, Any]]) -> tuple[int, str, str]:
    """(urgency 0–3, since, one sentence) of a limb's row on the worklist, from the assessment as it was said.

    A matter that is no longer seen stays until somebody closes it, one step down.
    """

    def urgency(row: dict[str, Any]) -> int:
        level = SIGNAL_LEVELS.index(row["level"]) + 1
        return level if row["holds"] else max(level - 1, 1)

    live = [row for row in unclosed if row["status"] != "snoozed"]
    if live:
        worst = max(live, key=lambda row: (urgency(row), row["holds"], row["since"]))
        more = len(live) - 1
        why = worst["because"] + (f" And {more} more." if more else "")
        return urgency(worst), worst["since"], why if worst["holds"] else f"No longer seen, still open: {why}"
    readiness = said["readiness"]
    since = readiness["since"] or said["as_of"]
    if readiness["state"] in ("due", "held") and readiness["reasons"]:
        return (2 if readiness["state"] == "due" else 1), since, readiness["reasons"][0]["text"]
    return 0, since, QUIET[readiness["state"]]


def rank(db: Database, limb_id: str) -> None:
    """Put a limb's row where its signals now belong, without a new assessment. Only inside a write transaction."""
    said = assessments.of_limb(db, limb_id)
    if said is not None:
        unclosed = signals.unclosed(db, [limb_id])[limb_id]
        assessments.set_rank(db, limb_id, *why_of(said, unclosed))


def spark_of(assessment: Assessment) -> list[dict[str, object]]:
    """The slow level of the last weeks, at most 30 points."""
    first = assessment.as_of - timedelta(days=SPARK_DAYS)
    points = [(day, level) for day, level in assessment.band if day >= first]
    step = max(1, -(-len(points) // 30))
    picked = points[::-1][::step][::-1]
    return [{"date": day.isoformat(), "pct": round(level.value, 2)} for day, level in picked]


def keep(
    db: Database, history: LimbHistory, assessment: Assessment, stale_since: str | None, now: datetime
) -> list[str]:
    """Keep one limb's assessment and bring its signals up to date; ids of signals that are news."""
    news = signals.reconcile(db, history.limb.id, assessment.signals, now)
    unclosed = signals.unclosed(db, [history.limb.id])[history.limb.id]
    said = assessment_to_json(assessment)
    urgency, since, why = why_of(said, unclosed)
    last = max((checkin.date for checkin in history.checkins), default=None)
    assessments.save(
        db,
        assessments.Kept(
            limb_id=history.limb.id,
            assessed_on=assessment.as_of.isoformat(),
            state=assessment.state,
            state_since=assessment.since.isoformat() if assessment.since else None,
            urgency=urgency,
            sort_since=since,
            why=why,
            spark=json.dumps(spark_of(assessment)),
            last_checkin=last.isoformat() if last else None,
            body=json.dumps(said),
        ),
        stale_since,
    )
    return news


def go(
    db: Database,
    now: datetime,
    *,
    limit: int = BATCH,
    days_too: bool = True,
) -> int:
    """One round of at most `limit` limbs; how many were assessed. The engine runs outside any transaction."""
    today = now.date()
    waiting = assessments.waiting(db, today.isoformat(), limit, days_too=days_too)
    if not waiting:
        return 0  # a new day makes every limb wait, so a snooze that ends today is met below
    thresholds = thresholds_of(clinics.clinic_row(db)["settings"])
    known = [(history, since) for limb_id, since in waiting if (history := histories.history(db, limb_id))]
    answers = _assessed([history for history, _ in known], today, thresholds)
    news: list[str] = []
    with write(db):
        for limb_id in signals.wake(db, now):
            rank(db, limb_id)
        for (history, since), answer in zip(known, answers, strict=True):
            if answer is not None:
                news += keep(db, history, answer, since, now)
        if news:
            notify.tell(db, news, now)
    return sum(answer is not None for answer in answers)


def _assessed(known: list[LimbHistory], today: date, thresholds: Thresholds) -> list[Assessment | None]:
    """An assessment of each; None for one that breaks the engine. It goes on waiting, and holds nobody else up."""
    try:
        return [said[0] for said in review.assess_caseload(known, [[today]] * len(known), thresholds)]
    except Exception:
        found: list[Assessment | None] = []
        for history in known:
            try:
                found.append(review.assess_caseload([history], [[today]], thresholds)[0][0])
            except Exception as error:
                log.error("round: %s at limb %s", type(error).__name__, history.limb.id, exc_info=error)
                found.append(None)
        return found
