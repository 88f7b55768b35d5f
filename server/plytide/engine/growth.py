"""A growing limb: the sock that is left to take off, and when it is used up."""

from __future__ import annotations

import math
from datetime import date, timedelta

from plytide.engine.core.room import runs_out
from plytide.engine.facts import Facts, mm_said
from plytide.engine.known import UNKNOWN_MAKE_SD, is_known, lacks
from plytide.engine.sentences import reason, sentence
from plytide.engine.volume import VolumeView
from plytide.model import Estimate, Growth, Reason, RunsOut, Sentence

STACK_SCALE_SD = 0.10  # how far a whole stack may be off, few socks as it is; a change of it less: judgement

WORDS = {
    "growing.unknown": "A growing limb: how much sock is left to take off is not known.",
    "growing.left": "A growing limb: {mm:.1f} mm [{low:.1f} to {high:.1f}] of sock is left to take off.",
    "growing.lasts": "By the log so far it does not run out within a year.",
    "growing.may-run-out": "By the log so far it lasts the year, but may run out from {low:full} on.",
    "growing.runs-out": "By the log so far it runs out about {day:full} [{low:full} to {high:full}].",
    "growing.runs-out-open": "By the log so far it runs out about {day:full} [{low:full} to not within a year].",
}


def growth_of(facts: Facts, view: VolumeView, day: date) -> Growth | None:
    """Of a growing limb: the sock still there that can be taken off, and when that is used up. None for others.

    The slow level of need against no sock; pads are no sock, and stay. The far end of the forecast goes on along its
    last line, up to a year (judgement).
    """
    if not facts.is_child(day) or not is_known(facts, view, day) or view.level_mm is None:
        return None
    socket = facts.socket_on(day)
    pads = sum(
        pad.thickness_mm for pad in facts.history.pads if socket and pad.socket_id == socket.id and pad.on <= day
    )
    unknown = any(one.code == "unknown-make" for one in lacks(facts, day))
    scale = 1.645 * (UNKNOWN_MAKE_SD if unknown else STACK_SCALE_SD) * max(view.level_mm.value, 0.0)

    level = view.level_mm
    low = level.value - math.hypot(level.value - level.low, scale)
    high = level.value + math.hypot(level.high - level.value, scale)
    left = Estimate(max(level.value - pads, 0.0), max(low - pads, 0.0), max(high - pads, 0.0))
    when = runs_out(
        level.value - pads,
        (high - low) / 3.29,
        [one.days for one in view.outlook],
        [one.if_cast_today_mm.value for one in view.outlook],
        [(one.if_cast_today_mm.high - one.if_cast_today_mm.low) / 3.29 for one in view.outlook],
    )
    if when.low is None:
        return Growth(left, None)

    def on(ahead: int | None) -> date | None:
        return None if ahead is None else day + timedelta(days=ahead)

    return Growth(left, RunsOut(on(when.middle), day + timedelta(days=when.low), on(when.high)))


def growing(growth: Growth | None) -> Reason:
    if growth is None:
        return reason(WORDS, "growing", sentence("growing.unknown"))
    return reason(WORDS, "growing", sentence("growing.left", **mm_said(growth.room_mm)), _until(growth.runs_out))


def _until(when: RunsOut | None) -> Sentence:
    if when is None:
        return sentence("growing.lasts")
    if when.date is None:
        return sentence("growing.may-run-out", low=when.low)
    if when.high is None:
        return sentence("growing.runs-out-open", day=when.date, low=when.low)
    return sentence("growing.runs-out", day=when.date, low=when.low, high=when.high)
