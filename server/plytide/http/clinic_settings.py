"""The clinic's own numbers, words, telephones and hours."""

from __future__ import annotations

from typing import Any

from flask import Response

from plytide.auth import room
from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import Denied
from plytide.auth.guards import DECIDERS, STAFF
from plytide.auth.session import who
from plytide.engine.thresholds import DEFAULTS, RANGES, RETIRED, ThresholdFault, Thresholds
from plytide.engine.volume.learning import LEAST_LIMBS
from plytide.http.body import answer
from plytide.http.entry import meanwhile
from plytide.http.route import Routes, checked_body
from plytide.storage import assessment as assessments
from plytide.storage import audit, clinics, mail, profile, set_aside
from plytide.storage.sqlite import write
from plytide.wire.clinic_settings import SettingsSchema
from plytide.work import learning

route = Routes("clinic_settings", "/api/clinic", called="planner")


def settings_to_json(kept: dict[str, Any]) -> dict[str, Any]:
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
        "chairs": kept.get("chairs", []),
        "recall_months": kept.get("recall_months"),
        "child_recall_months": kept.get("child_recall_months"),
        **clinics.contact(kept),
        "mail": kept.get("mail"),
        "learn_from_own_limbs": learning.is_on(kept),
        "learn_from_limbs": LEAST_LIMBS,
        "learnt": learning.to_json(kept),
        "room": room.clinic_warnings(),
        "failing": [_failing(one) for one in set_aside.all_of(clinic_db())],
    }


def _failing(row: dict[str, Any]) -> dict[str, Any]:
    """What fails, since when, why, and when it is tried again: an address, a phone or a limb by its id."""
    subject = {"mail": "to", "reminder": "device_id", "limb": "limb_id"}[row["what"]]
    return {subject: row["subject"], **{name: row[name] for name in ("what", "since", "tries", "again_at", "why")}}


def _meanwhile(shown: dict[str, Any], given: dict[str, Any], was: dict[str, Any]) -> None:
    """Raises Denied 409 where a colleague changed the same setting, or the same limit, since the form was opened."""
    plain = {name: value for name, value in given.items() if name != "thresholds"}
    meanwhile(shown, plain, was)
    limits = was.get("thresholds")
    if isinstance(limits, dict):
        now = {name: one["value"] for name, one in shown["thresholds"].items()}
        meanwhile(now, given.get("thresholds", {}), limits, "thresholds")


@route("GET", "/settings", STAFF)
def get_settings() -> Response:
    """The clinic's thresholds and words."""
    return answer(settings_to_json(clinics.clinic_row(clinic_db())["settings"]))


@route("PATCH", "/settings", DECIDERS, body=SettingsSchema)
def change_settings() -> Response:
    """Change thresholds (null puts the default back) and words. Every limb is assessed again."""
    given = checked_body()
    was = given.pop("was", {})
    now = settings().now()
    with write(clinic_db()) as db:
        stood, kept = (clinics.clinic_row(db)["settings"] for _ in range(2))
        _meanwhile(settings_to_json(kept), given, was)
        if "mail" in given:
            mail.moved(db, kept.get("mail"), given["mail"], now)
        if "thresholds" in given:
            before = {name: value for name, value in kept.get("thresholds", {}).items() if name not in RETIRED}
            own = {name: value for name, value in {**before, **given["thresholds"]}.items() if value is not None}
            try:
                Thresholds.from_json(own)
            except ThresholdFault as fault:
                field = f"thresholds.{fault.field}"
                raise Denied(422, "invalid", fault.message, fields={field: [fault.message]}) from fault
            kept["thresholds"] = own
        kept |= {name: value for name, value in given.items() if name != "thresholds"}
        if kept != stood:
            profile.keep_settings(db, stood, now.isoformat())
        clinics.save_settings(db, kept)
        if given.keys() & {"thresholds", "recall_months", "child_recall_months", learning.ON}:
            assessments.mark_all_stale(db, now)
        audit.record(db, now, f"staff:{who().id}", "settings.change", "clinic", ",".join(sorted(given)))
    return answer(settings_to_json(kept))
