"""What each tape measurement said beside the one before it, and what it did to what is believed."""

from __future__ import annotations

from datetime import date

from plytide.engine.core import limb_volume
from plytide.engine.volume.column import Column
from plytide.engine.volume.percent import girth_change, pct, share_pct
from plytide.model import TapeHeard


def tapes_heard(column: Column, t: int) -> tuple[TapeHeard, ...]:
    """Each day's tape up to day `t` beside the one before and beside the fitting's or the first, and what it did."""
    series, radius, constants = column.log.series, column.log.radius, column.constants
    moved = {
        heard.day: pct(heard.after, radius) - pct(heard.before, radius)
        for heard in column.track.tapes
        if heard.limb == column.at
    }
    told: list[TapeHeard] = []
    mm = {tape.day: tape.mm for tape in series.tapes}
    fittings = [socket.fitted_on.toordinal() for socket in series.sockets]
    start, one_hand = 0, True
    for tape in series.tapes:
        if tape.day - column.origin > t:
            break
        now, change = tape.circumference_mm, None
        if tape.before is None:
            start, one_hand = tape.day, True  # the scale begins anew
        else:
            change = girth_change(now, tape.mm - mm[tape.before])
            one_hand = one_hand and tape.same_hand
        if any(0 <= tape.day - fitted <= constants.tape_near_days for fitted in fittings):
            start, one_hand = tape.day, True  # the first one counts from itself, and is the fitting's
        far = start if start not in (tape.day, tape.before) else None
        told.append(
            TapeHeard(
                measurement_id=tape.id,
                on=date.fromordinal(tape.day),
                since=date.fromordinal(tape.before) if tape.before is not None else None,
                change_pct=change,
                limit_pct=share_pct(limb_volume.tape_limit(tape.same_hand)),
                same_hand=tape.same_hand,
                moved_pct=moved.get(tape.day - column.origin),
                logged_pct=column.pct_between(tape.before, tape.day),
                total_since=date.fromordinal(far) if far is not None else None,
                total_pct=girth_change(now, tape.mm - mm[far]) if far is not None else None,
                total_limit_pct=share_pct(limb_volume.tape_limit_over(one_hand, tape.day - start)),
                total_logged_pct=column.pct_between(far, tape.day),
            )
        )
    return tuple(told)
