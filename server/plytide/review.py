"""The whole line for one limb: check-ins to series, assessment, signals, readiness. Pure; no clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from plytide.assessment import VolumeView, assess_volume
from plytide.model import Assessment, CheckIn, LimbHistory
from plytide.series import resolved
from plytide.signals import Facts, readiness_of, signals_of
from plytide.thresholds import DEFAULTS, Thresholds


def assess(history: LimbHistory, as_of: Sequence[date], thresholds: Thresholds = DEFAULTS) -> list[Assessment]:
    """One assessment per date of `as_of`, each from what was written up to the end of that date."""
    return assess_caseload([history], [as_of], thresholds)[0]


def assess_caseload(
    histories: Sequence[LimbHistory],
    as_of: Sequence[Sequence[date]],
    thresholds: Thresholds = DEFAULTS,
) -> list[list[Assessment]]:
    """`assess` for many limbs in one call, which is much faster than one by one."""
    known = [
        (which, standing, dates)
        for which, (history, all_dates) in enumerate(zip(histories, as_of, strict=True))
        for standing, dates in known_then(history, all_dates)
    ]
    views = assess_volume([standing for _, standing, _ in known], [dates for _, _, dates in known], thresholds)
    answers: list[dict[date, Assessment]] = [{} for _ in histories]
    for (which, standing, dates), row in zip(known, views, strict=True):
        facts = Facts.of(standing)
        for day, view in zip(dates, row, strict=True):
            answers[which][day] = said_of(facts, view, day, thresholds)
    return [[found[day] for day in dates] for found, dates in zip(answers, as_of, strict=True)]


def said_of(facts: Facts, view: VolumeView, day: date, thresholds: Thresholds) -> Assessment:
    """What the clinic hears of one limb on one day."""
    signals = signals_of(facts, view, day, thresholds)
    state, since, reasons = readiness_of(facts, view, signals, day, thresholds)
    return Assessment(
        limb_id=facts.history.limb.id,
        as_of=day,
        checkins_used=view.checkins_used,
        change_pct=view.change_pct,
        change_28d_pct=view.change_28d_pct,
        coming_28d_pct=view.coming_28d_pct,
        daily_swing_pct=view.daily_swing_pct,
        state=state,
        since=since,
        settles_on=view.settles_on if state in ("settling", "changing") else None,
        reasons=reasons,
        outlook=view.outlook,
        signals=signals,
        band=view.band,
    )


def known_then(history: LimbHistory, dates: Sequence[date]) -> list[tuple[LimbHistory, list[date]]]:
    """The history with its corrections made, and the dates for which that is what was known.

    Nearly always one history for all dates. A correction dated later than what it corrects must not reach back:
    until its own date the old entry stands.
    """
    dated = {checkin.id: checkin.date for checkin in history.checkins}

    def is_late(checkin: CheckIn) -> bool:
        return checkin.replaces in dated and checkin.date > dated[checkin.replaces]

    late = sorted({checkin.date for checkin in history.checkins if is_late(checkin)})
    spans: dict[int, list[date]] = {}
    for day in dict.fromkeys(dates):
        spans.setdefault(sum(known_on <= day for known_on in late), []).append(day)
    found = []
    for reached, days in spans.items():
        unknown = set(late[reached:])
        then = [one for one in history.checkins if not (is_late(one) and one.date in unknown)]
        found.append((replace(history, checkins=tuple(resolved(then))), days))
    return found
