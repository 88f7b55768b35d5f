"""What stands against a socket that is entered: its reasons, until somebody says why they go on."""

from __future__ import annotations

from datetime import date, timedelta

from plytide.engine.checklists import shape_check
from plytide.engine.facts import Facts, short
from plytide.engine.open_skin import alarms_open
from plytide.engine.thresholds import Thresholds
from plytide.engine.weights import weights
from plytide.model import Reason, Socket

#: What each code of a body asks to be looked at again, where the value is new.
ABOUT = {
    "weight_limit_kg": {"weight-over-limit"},
    "made": {"bulbous", "deep-scar"},
    "suspension": {"open-skin", "deep-scar"},
}
ALL_ABOUT = frozenset({"weight-over-limit", "bulbous", "open-skin", "deep-scar"})


def stands_against(
    facts: Facts, socket: Socket, day: date, thresholds: Thresholds, about: frozenset[str] = ALL_ABOUT
) -> tuple[Reason, ...]:
    """What is known of the limb that stands against a socket as it is entered. Asked, never forbidden.

    The last known weight counts, whichever socket was worn then; a wearer's day may be a day ahead of the clinic's.
    """
    found = []
    known = weights(facts, date.min, day + timedelta(days=1))
    if socket.weight_limit_kg and known and known[-1][1] > socket.weight_limit_kg:
        text = f"{known[-1][1]:g} kg on {short(known[-1][0])}: more than the limit of {socket.weight_limit_kg:g} kg."
        found.append(Reason("weight-over-limit", text))
    shape = shape_check(facts)
    if socket.made == "direct" and shape.state == "stop":
        found.append(
            Reason("bulbous", f"{shape.because} A socket made on the limb would not draw off (common practice).")
        )
    if alarms := alarms_open(facts, day, thresholds):
        names = sorted({each.finding.replace("_", " ") for each in alarms[-1].skin})
        text = f"Skin: {', '.join(names)} reported on {short(alarms[-1].date)}, and not known to be over."
        found.append(Reason("open-skin", text))
    if facts.history.limb.deep_scar:
        found.append(Reason("deep-scar", "A deep, drawn-in scar is entered for this limb."))
    return tuple(one for one in found if one.code in about)
