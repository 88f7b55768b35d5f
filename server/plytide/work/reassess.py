"""The round: limbs with news are assessed in one batch, and what was said is kept.

Takes a clinic's file, gives nothing back but rows. Runs in the background, which also brings every limb to a new day. A
danger does not wait for it: it is told in the call that brings it.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict
from datetime import date, datetime, timedelta
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, NamedTuple

from sqlite_utils import Database

from plytide import model
from plytide.engine import assess, safety, worn
from plytide.engine import said as sayings
from plytide.engine.core.kept import Shelf
from plytide.engine.readiness import TAPE_AGAINST
from plytide.engine.sentences import in_english, sentence
from plytide.engine.series import resolved
from plytide.engine.thresholds import DEFAULTS, Thresholds
from plytide.model import Assessment, LimbHistory
from plytide.storage import assessment as assessments
from plytide.storage import clinics, profile, set_aside, signals
from plytide.storage import history as histories
from plytide.storage import said as kept_sayings
from plytide.storage.rows import Row
from plytide.storage.sqlite import OperationalError, write
from plytide.wire import kept_assessment
from plytide.wire.history import assessment_to_json
from plytide.wire.history import sentences as sentences_to_json
from plytide.work import clocks, learning, mail, signal_life

log = logging.getLogger("plytide")

SPARK_DAYS = 42
GROWN_SOON_DAYS = 42  # a child's sock used up within it: about a cast and a delivery away; judgement
BATCH = 200
EMERGENCY_FIRST = "0 "  # before every date
#: What makes the next day of a limb cheap, in this process only: about 70 kB a limb. Forgotten, it costs time and no
#: answer.
SHELF = Shelf(500)

#: What a row says beside its matter, and of a limb with no unclosed signal, by state.
WORDS = {
    "row.no-longer-seen": "No longer seen, still open:",
    "row.more": "And {more} more.",
    "quiet.gathering": "Not known yet: too little is logged.",
    "quiet.changing": "Volume is changing, within what is expected.",
    "quiet.settling": "Volume is settling.",
    "quiet.steady": "Nothing to act on: the coming four weeks' change is expected to stay within the margin.",
    "quiet.due": "The socket no longer serves.",
    "quiet.held": "A recast is on hold.",
}


def thresholds_of(settings: dict[str, object]) -> Thresholds:
    """The clinic's own thresholds, or the defaults."""
    own = settings.get("thresholds")
    return Thresholds.kept(own) if isinstance(own, dict) else DEFAULTS


def thresholds_at(db: Database, until: str | None) -> Thresholds:
    """The clinic's thresholds now, or as they were at an instant. Reads only."""
    return thresholds_of(profile.settings_at(db, clinics.clinic_row(db)["settings"], until))


class Why(NamedTuple):
    """What a limb's row on the worklist says: urgency 0–3, since, and why, in English and as codes and values."""

    urgency: int
    since: str
    words: str
    sentences: list[Row]  # none where what it says was kept without


def why_of(said: dict[str, Any], unclosed: Sequence[dict[str, Any]]) -> Why:
    """Of a limb's row, from the assessment as it was said.

    A matter that is no longer seen stays until somebody closes it, one step down.
    """
    live = [row for row in signal_life.in_order(unclosed) if row["status"] != "snoozed"]
    if live:
        worst = live[0]
        parts = [] if worst["holds"] else [_own("row.no-longer-seen")]
        parts.append((worst["because"], worst["sentences"]))
        if len(live) > 1:
            parts.append(_own("row.more", more=len(live) - 1))
        return _why(signal_life.urgency(worst), worst["since"], *parts)
    readiness = said["readiness"]
    since = readiness["since"] or said["as_of"]
    if readiness["state"] in ("due", "held") and readiness["reasons"]:
        return _why(2 if readiness["state"] == "due" else 1, since, _of(readiness["reasons"][0]))
    said_first = {reason["code"]: _of(reason) for reason in reversed(readiness["reasons"])}
    if grown := said.get("growth"):
        out = grown["runs_out"]
        soon = date.fromisoformat(said["as_of"]) + timedelta(days=GROWN_SOON_DAYS)
        urgent = bool(out and out["date"] and date.fromisoformat(out["date"]) <= soon)
        return _why(int(urgent), since, said_first["growing"])
    if TAPE_AGAINST in said_first:
        return _why(1, since, said_first[TAPE_AGAINST])
    if readiness["state"] == "gathering" and readiness["reasons"]:
        return _why(0, since, _of(readiness["reasons"][0]))
    return _why(0, since, _own(f"quiet.{readiness['state']}"))


Part = tuple[str, list[Row]]


def _own(code: str, **values: model.Value) -> Part:
    told = [sentence(code, **values)]
    return in_english(WORDS, told, code), sentences_to_json(told)


def _of(reason: Row) -> Part:
    return reason["text"], reason.get("sentences") or []


def _why(urgency: int, since: str, *parts: Part) -> Why:
    """Where one part is known by its words alone, so is the whole: half of it would say something else."""
    known = all(sentences for _, sentences in parts)
    return Why(
        urgency,
        since,
        " ".join(words for words, _ in parts),
        [one for _, sentences in parts for one in sentences] if known else [],
    )


def place(since: str, unclosed: Sequence[dict[str, Any]]) -> str:
    """Where a row stands among those as urgent: those with an emergency first, then by since when."""
    live = next((row for row in signal_life.in_order(unclosed) if row["status"] != "snoozed"), None)
    emergency = live is not None and live["holds"] and live["rule"] in safety.emergencies()
    return f"{EMERGENCY_FIRST}{since}" if emergency else since


def rank(db: Database, limb_id: str) -> None:
    """Put a limb's row where its signals now belong, without a new assessment. Only inside a write transaction."""
    said = assessments.of_limb(db, limb_id)
    if said is not None:
        unclosed = signals.unclosed(db, [limb_id])[limb_id]
        why = why_of(said, unclosed)
        sentences = json.dumps(why.sentences)
        assessments.set_rank(db, limb_id, why.urgency, place(why.since, unclosed), why.words, sentences)


@cache
def engine_mark() -> str:
    """Which engine this is: a digest of its code and of the rules it reads. What another one said is not shown."""
    parts = [*sorted(Path(assess.__file__).parent.rglob("*.py")), Path(model.__file__), safety.RULES_FILE]
    return sha256(b"".join(part.read_bytes() for part in parts)).hexdigest()[:16]


def current(
    db: Database, history: LimbHistory, now: datetime, as_of: date | None = None, until: str | None = None
) -> Assessment:
    """What is said of a limb: the kept assessment, if it is of today and nothing came since; else the engine is asked.

    For another day (`as_of`, with the history as it was known then, by `until`) it is always asked. Reads only.
    """
    if as_of is None:
        kept = assessments.whole(db, history.limb.id, now.date().isoformat(), engine_mark())
        with suppress(kept_assessment.OtherShape):
            if kept is not None:
                return kept_assessment.from_text(kept)
    settings = profile.settings_at(db, clinics.clinic_row(db)["settings"], until)
    return assess.assess(history, [as_of or now.date()], thresholds_of(settings), learning.bank(settings))[0]


def spark_of(assessment: Assessment) -> list[dict[str, object]]:
    """The slow level of the last weeks on the limb's own scale, at most 30 points; none if nothing is known now."""
    if assessment.change_pct is None:
        return []
    first = assessment.as_of - timedelta(days=SPARK_DAYS)
    points = [(day, level) for day, level in assessment.limb_band if day >= first]
    step = max(1, -(-len(points) // 30))
    picked = points[::-1][::step][::-1]
    return [{"date": day.isoformat(), "pct": round(level.value, 2)} for day, level in picked]


def strip_of(history: LimbHistory, day: date) -> dict[str, object]:
    """What the worklist draws of the socks: four weeks of what the days began with, now and before, and at fitting."""
    known = worn.strip(history, resolved(history.checkins), day)
    return {
        "until": day.isoformat(),
        "mm": [None if mm is None else round(mm, 2) for mm in known.mm],
        "now": None if known.now is None else [asdict(sock) for sock in known.now],
        "now_on": known.now_on.isoformat() if known.now_on else None,
        "was": None if known.was is None else [asdict(sock) for sock in known.was],
        "socket_on": known.socket_on.isoformat() if known.socket_on else None,
        "fitted_mm": None if known.fitted_mm is None else round(known.fitted_mm, 2),
    }


def keep(
    db: Database,
    history: LimbHistory,
    assessment: Assessment,
    stale_since: str | None,
    now: datetime,
    margin_mm: float,
) -> list[str]:
    """Keep one limb's assessment and bring its signals up to date; ids of signals that are news."""
    due = clocks.due(db, history.limb.id, assessment.as_of)
    # What came while the engine ran may have told of a danger that this history does not hold.
    whole = assessments.stale_since(db, history.limb.id) == stale_since
    said_now = (*assessment.signals, *due)
    news = signal_life.reconcile(db, history.limb.id, said_now, now, safety.emergencies(), whole=whole)
    clocks.settle(db, history.limb.id, now)
    show(db, history, assessment, stale_since, now)
    whole_text = kept_assessment.to_text(assessment)
    assessments.save_whole(db, history.limb.id, assessment.as_of.isoformat(), engine_mark(), whole_text)
    keep_said(db, history, assessment, margin_mm)
    return news


def show(db: Database, history: LimbHistory, assessment: Assessment, stale_since: str | None, now: datetime) -> None:
    """What the worklist shows of a limb. Only inside a write transaction."""
    unclosed = signals.unclosed(db, [history.limb.id])[history.limb.id]
    said = assessment_to_json(assessment)
    for reason, kept in zip(said["readiness"]["reasons"], assessment.reasons, strict=True):
        reason["sentences"] = sentences_to_json(kept.sentences)
    why = why_of(said, unclosed)
    last = max((checkin.date for checkin in resolved(history.checkins)), default=None)  # what was taken back is no log
    assessments.save(
        db,
        assessments.Kept(
            limb_id=history.limb.id,
            assessed_on=assessment.as_of.isoformat(),
            state=assessment.state,
            state_since=assessment.since.isoformat() if assessment.since else None,
            urgency=why.urgency,
            sort_since=place(why.since, unclosed),
            why=why.words,
            why_sentences=json.dumps(why.sentences),
            spark=json.dumps(spark_of(assessment)),
            last_checkin=last.isoformat() if last else None,
            body=json.dumps({**said, "strip": strip_of(history, assessment.as_of)}),
            assessed_at=now.isoformat(),
        ),
        stale_since,
    )


def keep_said(db: Database, history: LimbHistory, assessment: Assessment, margin_mm: float) -> None:
    """Keep what was told, where that is due: for the clinic's own record. Only inside a write transaction."""
    now = sayings.said_of(assessment, history, margin_mm)
    if sayings.is_due(kept_sayings.last(db, history.limb.id), now):
        kept_sayings.add(db, history.limb.id, now)


def go(
    db: Database,
    now: datetime,
    *,
    limit: int | None = None,
    days_too: bool = True,
) -> int:
    """One round of at most `limit` limbs; how many were assessed. The engine runs outside any transaction.

    A limb that can't be assessed is set aside by itself: its last assessment stays, and it is tried again after a
    pause, or when something new is said of it.
    """
    today = now.date()
    waiting = assessments.waiting(db, now, limit or BATCH, days_too=days_too)
    if not waiting:
        return 0  # a new day makes every limb wait, so a snooze that ends today is met below
    settings = clinics.clinic_row(db)["settings"]
    failed: dict[str, str] = {}
    known: list[tuple[LimbHistory, str | None]] = []
    for limb_id, since in waiting:
        try:
            history = histories.history(db, limb_id)
        except OperationalError:  # the file is busy or full: not this limb's doing
            raise
        except Exception as error:
            failed[limb_id] = _fault(limb_id, error)
        else:
            known += [(history, since)] if history else []
    answers = _assessed([history for history, _ in known], today, settings, failed)
    said = [
        (history, since, answer) for (history, since), answer in zip(known, answers, strict=True) if answer is not None
    ]
    kept = say(db, said, now, failed)
    if failed:
        with write(db):
            for limb_id, why in failed.items():
                set_aside.fail(db, "limb", limb_id, why, now)
    return kept


def _fault(limb_id: str, error: Exception) -> str:
    log.error("round: %s at limb %s", type(error).__name__, limb_id, exc_info=error)
    return f"Something kept of this limb can't be read ({type(error).__name__})."


Said = Sequence[tuple[LimbHistory, str | None, Assessment]]


def say(db: Database, said: Said, now: datetime, failed: dict[str, str] | None = None) -> int:
    """Keep what was said of limbs (history, waiting since, assessment), in one transaction; tell of what is news.

    Where that fails, each limb has a transaction of its own, and those that still fail are put into `failed`.
    """
    try:
        _say(db, said, now)
        return len(said)
    except OperationalError:
        raise
    except Exception:
        if failed is None:
            raise
    count = 0
    for one in said:
        try:
            _say(db, [one], now, wake=False)
            count += 1
        except OperationalError:
            raise
        except Exception as error:
            limb_id = one[0].limb.id
            failed[limb_id] = _fault(limb_id, error)
    _wake(db, now, failed)
    return count


def _say(db: Database, said: Said, now: datetime, *, wake: bool = True) -> None:
    news: list[str] = []
    with write(db):
        for limb_id in signals.wake(db, now) if wake else ():
            rank(db, limb_id)
        margin_mm = thresholds_of(clinics.clinic_row(db)["settings"]).steady_margin_mm
        for history, since, answer in said:
            news += keep(db, history, answer, since, now, margin_mm)
        set_aside.well(db, "limb", [history.limb.id for history, _, _ in said])
        if news:
            mail.tell(db, news, now)


def _wake(db: Database, now: datetime, failed: dict[str, str]) -> None:
    """Snoozes that end, in a round where something fails: a row that can't be placed stays where it stands."""
    with write(db):
        for limb_id in signals.wake(db, now):
            try:
                rank(db, limb_id)
            except OperationalError:
                raise
            except Exception as error:
                failed[limb_id] = _fault(limb_id, error)


def _assessed(
    known: list[LimbHistory], today: date, settings: dict[str, Any], failed: dict[str, str]
) -> list[Assessment | None]:
    """An assessment of each; None for one that breaks the engine, which is put into `failed`."""

    def read(histories: list[LimbHistory]) -> list[list[Assessment]]:
        dates = [[today]] * len(histories)
        return assess.assess_caseload(histories, dates, thresholds_of(settings), SHELF, bank=learning.bank(settings))

    try:
        return [said[0] for said in read(known)]
    except Exception:
        found: list[Assessment | None] = []
        for history in known:
            try:
                found.append(read([history])[0][0])
            except Exception as error:
                failed[history.limb.id] = _fault(history.limb.id, error)
                found.append(None)
        return found
