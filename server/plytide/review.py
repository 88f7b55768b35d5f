"""The whole line for one limb: check-ins to series, assessment, signals, readiness. Pure; no clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from plytide.assessment import assess_volume
from plytide.model import Assessment, LimbHistory
from plytide.series import resolved
from plytide.signals import readiness_of, signals_of
from plytide.thresholds import DEFAULTS, Thresholds


def assess(
    history: LimbHistory, as_of: Sequence[date], thresholds: Thresholds = DEFAULTS
) -> list[Assessment]:
    """One assessment per date of `as_of`, each from what was written up to the end of that date."""
    return assess_caseload([history], [as_of], thresholds)[0]


def assess_caseload(
    histories: Sequence[LimbHistory],
    as_of: Sequence[Sequence[date]],
    thresholds: Thresholds = DEFAULTS,
) -> list[list[Assessment]]:
    """`assess` for many limbs in one call, which is much faster than one by one."""
    standing = [replace(h, checkins=tuple(resolved(h.checkins))) for h in histories]
    views = assess_volume(standing, as_of, thresholds)
    out = []
    for history, dates, row in zip(standing, as_of, views, strict=True):
        answers = []
        for day, view in zip(dates, row, strict=True):
            known = up_to(history, day)
            signals = signals_of(known, view, day, thresholds)
            state, since, reasons = readiness_of(known, view, signals, day, thresholds)
            answers.append(
                Assessment(
                    limb_id=history.limb.id,
                    as_of=day,
                    checkins_used=len(known.checkins),
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
            )
        out.append(answers)
    return out


def up_to(history: LimbHistory, day: date) -> LimbHistory:
    """The history as far as it was known at the end of `day`."""
    return replace(
        history,
        sockets=tuple(s for s in history.sockets if s.fitted_on <= day),
        pads=tuple(p for p in history.pads if p.on <= day),
        measurements=tuple(m for m in history.measurements if m.on <= day),
        checkins=tuple(c for c in history.checkins if c.date <= day),
    )
