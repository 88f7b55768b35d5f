"""What a clinic's own past limbs say about limbs: learnt once a month, kept with its date among the clinic's settings.

As settings are, so it is replayed: a day before it was learnt is read by what held then. A clinic may turn it off, and
no clinic ever sees another's: each file is gone over by itself.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from sqlite_utils import Database

from plytide.engine.core.bank import Bank
from plytide.engine.core.population import Population, parts_of, population_of
from plytide.engine.core.settling import EXPONENTIAL, LOG_TIME
from plytide.engine.series import resolved
from plytide.engine.volume import BANK
from plytide.engine.volume.learning import LEAST_DAYS, LEAST_LIMBS, MOST_LIMBS, bank_of, learnt
from plytide.model import LimbHistory
from plytide.storage import assessment as assessments
from plytide.storage import audit, checkin, clinics, profile
from plytide.storage import history as histories
from plytide.storage.sqlite import write

EVERY_DAYS = 28  # judgement
ON, KEPT = "learn_from_own_limbs", "learnt"  # in the settings

_looked: dict[str, date] = {}  # clinics that had too few limbs when this process last counted them, and when


def is_on(settings: dict[str, Any]) -> bool:
    return settings.get(ON) is not False


def population(settings: dict[str, Any]) -> Population | None:
    """What was learnt, where a clinic lets it count; None: the engine as shipped."""
    kept = settings.get(KEPT)
    if not is_on(settings) or not isinstance(kept, dict):
        return None
    shares = [kept.get(name) for name in ("laws", "wobbles")]
    if not all(isinstance(each, list) and all(isinstance(x, int | float) for x in each) for each in shares):
        return None
    return Population(*(tuple(map(float, each or ())) for each in shares))


def bank(settings: dict[str, Any]) -> Bank:
    """The engine's bank as this clinic reads its limbs with it."""
    return bank_of(population(settings))


def go(db: Database, now: datetime) -> int:
    """Learn, where it is time and there are limbs enough; how many were learnt from."""
    row, today = clinics.clinic_row(db), now.date()
    if not is_on(row["settings"]) or _looked.get(row["id"]) == today:
        return 0
    last = row["settings"].get(KEPT)
    if isinstance(last, dict) and str(last.get("on", "")) > (today - timedelta(days=EVERY_DAYS)).isoformat():
        return 0
    _looked[row["id"]] = today
    limbs = checkin.well_logged(db, LEAST_DAYS, MOST_LIMBS)
    if len(limbs) < LEAST_LIMBS:
        return 0
    found = learnt([one for limb_id in limbs if (one := _history(db, limb_id))])
    if found is None:
        return 0
    keep(db, found.limbs, found.population, now)
    return found.limbs


def _history(db: Database, limb_id: str) -> LimbHistory | None:
    """None also for what can't be read: that limb is set aside elsewhere, and nobody learns from it."""
    try:
        one = histories.history(db, limb_id)
    except (ValueError, KeyError, TypeError):
        return None
    return replace(one, checkins=tuple(resolved(one.checkins))) if one else None


def keep(db: Database, limbs: int, found: Population, now: datetime) -> None:
    """From now on the clinic's limbs are read with it; each waits to be read again."""
    with write(db):
        stood = clinics.clinic_row(db)["settings"]
        profile.keep_settings(db, stood, now.isoformat())
        shares = {"laws": list(found.laws), "wobbles": list(found.wobbles)}
        clinics.save_settings(db, {**stood, KEPT: {"on": now.date().isoformat(), "limbs": limbs, **shares}})
        assessments.mark_all_stale(db, now)
        audit.record(db, now, "server", "settings.learn", "clinic", f"{limbs} limbs")


def to_json(settings: dict[str, Any]) -> dict[str, Any] | None:
    """What was learnt beside what is taken for granted elsewhere: shares of each way to settle and size of wobble."""
    own = population({**settings, ON: True})
    if own is None or bank_of(own) is BANK:
        return None
    parts, shipped, kept = parts_of(BANK), population_of(BANK), settings[KEPT]
    names = {LOG_TIME: "log-time", EXPONENTIAL: "exponential"}
    sizes = sorted({mm for mm, _ in parts.wobbles})

    def of_size(mm: float, shares: tuple[float, ...]) -> float:
        return sum(share for (size, _), share in zip(parts.wobbles, shares, strict=True) if size == mm)

    return {
        "on": str(kept.get("on")),
        "limbs": kept.get("limbs"),
        "settling": [
            {"law": names[law], "days": tau if law == EXPONENTIAL else None, "here": here, "elsewhere": there}
            for (law, tau), here, there in zip(parts.laws, own.laws, shipped.laws, strict=True)
            if law in names
        ],
        "wobble": [
            {"mm": mm, "here": of_size(mm, own.wobbles), "elsewhere": of_size(mm, shipped.wobbles)} for mm in sizes
        ],
    }
