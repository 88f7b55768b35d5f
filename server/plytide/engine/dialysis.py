"""How much larger a limb is before a dialysis session than on the morning after it."""

from __future__ import annotations

import math
from datetime import date

from plytide.engine.core.sessions import LEAST_PAIRS, paired_fall
from plytide.engine.facts import Facts
from plytide.engine.known import SOCK_SCALE_SD, is_known
from plytide.engine.sentences import reason, sentence
from plytide.engine.series import PHASE, series_of
from plytide.engine.volume import VolumeView, radius_mm
from plytide.model import Estimate, Reason

SWING_DAYS = 84  # sessions of the last twelve weeks: judgement

WORDS = {
    "dialysis-swing-unknown": (
        "The swing between dialysis sessions is not known: it needs {needed} mornings of a session day with the "
        "morning after, within {weeks} weeks; {logged} are logged."
    ),
}


def session_swing(facts: Facts, view: VolumeView, day: date) -> tuple[Estimate | None, Reason | None]:
    """On dialysis: percent by which the limb is larger before a session than on the morning after it, and where that
    is not known, why. From the mornings of the last weeks on which a session was logged, and those after them."""
    if "dialysis" not in facts.history.limb.tags:
        return None, None
    if not is_known(facts, view, day):
        return None, None  # what is not known of the volume is said once
    series = series_of(facts.history)
    need: dict[int, float] = {}
    for n in range(len(series.day)):
        if series.phase[n] == PHASE["putting_on"]:
            half = {-1: -series.down[n] / 2, 1: series.up[n] / 2}.get(int(series.fit[n]), 0.0)
            need[int(series.day[n])] = float(series.fill[n]) + half
    falls = [
        need[after] - need[before]
        for one in facts.sessions
        if 0 <= (day - one).days <= SWING_DAYS
        for before, after in ((one.toordinal(), one.toordinal() + 1),)
        if before in need and after in need and after <= day.toordinal()
        if date.fromordinal(after) not in facts.sessions
    ]
    fall = paired_fall(falls)
    if fall is None:
        told = sentence("dialysis-swing-unknown", needed=LEAST_PAIRS, weeks=SWING_DAYS // 7, logged=len(falls))
        return None, reason(WORDS, "dialysis-swing-unknown", told)
    radius = radius_mm(facts.history)
    scale = 1.645 * SOCK_SCALE_SD * abs(fall[0])
    half = math.hypot(fall[1], scale)
    return Estimate(*(((1 + mm / radius) ** 2 - 1) * 100 for mm in (fall[0], fall[0] - half, fall[0] + half))), None
