"""The limb no longer goes fully in, or a child has grown out of the stack at fitting."""

from __future__ import annotations

from datetime import date, timedelta

from plytide.engine.core.thickness import stack_thickness
from plytide.engine.facts import ALARM_SHOWN_DAYS, Facts, evidence, evidence_of_run
from plytide.engine.sentences import sentence, signal
from plytide.engine.signal_kind import Kind
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.model import CheckIn, Signal

# What a signal asks of the visit: trade practice; judgement.
KINDS = (
    Kind(
        "outgrown",
        label="outgrown",
        ask="Does it go fully in? Does the leg look short?",
        look="Brim marks, end contact, leg length.",
        payer=("limb", 4),
    ),
)

WORDS = {
    "outgrown.held-out": "The limb did not go fully in on {count:days} of the last 7.",
    "outgrown.fallen": "The sock stack has fallen to {now:.1f} mm; it was {then:.1f} mm at fitting.",
    "outgrown.fallen-from-unknown": "The sock stack has fallen to {now:.1f} mm; what it was at fitting is not known.",
}


def rule(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    """The limb no longer goes fully in, or a child's stack has fallen well below the stack at fitting."""

    def held_out(each: date) -> list[CheckIn]:
        worn = facts.socket_on(each)  # of the socket before it says nothing
        week = [one for one in facts.window(each, 7) if worn is None or one.date >= worn.fitted_on]
        seen = [checkin for checkin in week if "cannot_get_fully_in" in checkin.signs]
        return seen if len({checkin.date for checkin in seen}) >= 2 else []

    stuck = held_out(day)
    if stuck:
        told = sentence("outgrown.held-out", count=len({c.date for c in stuck}))
        since = facts.episode("held-out", thresholds, day, held_out)
        return [signal(WORDS, "outgrown", "call", since, [told], evidence(stuck))]
    socket = facts.socket_on(day)
    if socket is None or not facts.is_child(day):
        return []
    entered = socket.stack_at_fitting is not None and not socket.baseline_unsure
    baseline = stack_thickness(socket.stack_at_fitting or ())[0]

    def filled(checkin: CheckIn) -> float:
        """Socks and the pads glued in by then: a pad takes the place of sock, and is no growth."""
        pads = (pad.thickness_mm for pad in facts.history.pads if pad.socket_id == socket.id and pad.on <= checkin.date)
        return stack_thickness(checkin.stack)[0] + sum(pads)

    def fallen(last: date) -> bool:
        """Both of the last two weeks' middle stacks, in this socket, lie a thin sock below the stack at fitting."""
        if not entered or last - timedelta(days=13) < socket.fitted_on:
            return False
        for first in (last - timedelta(days=6), last - timedelta(days=13)):
            worn = sorted(filled(c) for c in facts.checkins(facts.between(first, first + timedelta(days=6))))
            if len(worn) < 3 or worn[len(worn) // 2] > baseline - thresholds.outgrown_mm + 1e-9:
                return False
        return True

    def bare_and_tight(last: date) -> bool:
        """Nothing left to take off, and tight."""
        recent = facts.between(max(last - timedelta(days=13), socket.fitted_on), last)[-5:]
        worn = facts.checkins(recent)
        return (
            len(recent) == 5
            and all(stack_thickness(c.stack)[0] < 0.3 for c in worn)
            and (sum(c.fit == "tight" for c in worn) >= len(worn) / 2)
        )

    last = facts.last_on(day)
    if last is None or (day - last).days > ALARM_SHOWN_DAYS or not (fallen(last) or bare_and_tight(last)):
        return []
    since = facts.run_start(
        f"outgrown {socket.id}", thresholds, last, lambda each: fallen(each) or bare_and_tight(each)
    )
    now = stack_thickness(facts.by_date[last][-1].stack)[0]
    unknown = sentence("outgrown.fallen-from-unknown", now=now)
    told = sentence("outgrown.fallen", now=now, then=baseline) if entered else unknown
    return [signal(WORDS, "outgrown", "call", since, [told], evidence_of_run(facts, since, last))]
