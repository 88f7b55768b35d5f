"""The whole line for one limb: check-ins to series, assessment, signals, readiness. Pure; no clock."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from plytide.assessment import SETTINGS, VolumeView, assess_volume
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

    Nearly always one history for all dates. Where an entry and its correction lie on different dates, neither may
    reach back behind its own: until the later of the two, the earlier stands. Days so far on that the engine no
    longer looks back to the first are asked for one by one, since what it then sees depends on the last day asked.
    """
    moved = _corrected_to_another_date(history.checkins)
    turns = sorted({checkin.date for checkin in history.checkins if checkin.id in moved})
    begins = [checkin.date for checkin in history.checkins] + [socket.fitted_on for socket in history.sockets]
    far = min(begins, default=date.max).toordinal() + SETTINGS.longest_days
    spans: dict[tuple[int, date | None], list[date]] = {}
    for day in dict.fromkeys(dates):
        spans.setdefault((bisect_right(turns, day), day if day.toordinal() > far else None), []).append(day)
    found = []
    for (reached, _), days in spans.items():
        unknown = set(turns[reached:])
        then = [one for one in history.checkins if not (one.id in moved and one.date in unknown)]
        found.append((replace(history, checkins=tuple(resolved(then))), days))
    return found


def _corrected_to_another_date(checkins: Sequence[CheckIn]) -> set[str]:
    """Ids of entries and corrections, of one chain, that are not all of one date."""
    if not any(checkin.replaces for checkin in checkins):
        return set()
    chain: dict[str, str] = {}

    def head(id_: str) -> str:
        while chain.get(id_, id_) != id_:
            id_ = chain[id_]
        return id_

    for checkin in checkins:
        if checkin.replaces:
            chain[head(checkin.id)] = head(checkin.replaces)
    days: dict[str, set[date]] = {}
    for checkin in checkins:
        days.setdefault(head(checkin.id), set()).add(checkin.date)
    return {checkin.id for checkin in checkins if len(days[head(checkin.id)]) > 1}
