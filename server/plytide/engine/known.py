"""Whether anything may be said of a limb's volume now, and what the figures rest on that is not known."""

from __future__ import annotations

from datetime import date, timedelta

from plytide.engine.facts import Facts
from plytide.engine.sentences import reason, sentence
from plytide.engine.volume import CONSTANTS, VolumeView
from plytide.model import Reason

SOCK_SCALE_SD, UNKNOWN_MAKE_SD = CONSTANTS.thickness_scale_sd, CONSTANTS.unknown_make_sd
UNKNOWN_MAKE_DAYS = 28
# Without a word for so long nothing is said about a trend, nor a cast offered: more than a week, so that who logs once
# a week is still known, and a holiday of two is not taken for two steady weeks. Judgement.
QUIET_DAYS = 8
# A log that ended so long ago is named beside what it says: longer than a weekend without a log; judgement.
OLD_DAYS = 3

WORDS = {
    "no-socket": "No socket is entered, so there is no baseline to compare with.",
    "no-baseline": "The sock stack at fitting is not entered.",
    "no-baseline.since": "Change is counted from the first log in this socket, {on:day}.",
    "baseline-unsure": (
        "The sock stack at fitting is not entered, or no sock was worn: the two were not told apart then."
    ),
}


def silent_for(facts: Facts, day: date) -> int | None:
    """Days without a word, where they are so many that nothing is known of now; None otherwise."""
    last = facts.last_on(day)
    quiet = (day - last).days if last else 0
    return quiet if quiet >= QUIET_DAYS else None


def is_known(facts: Facts, view: VolumeView, day: date) -> bool:
    """Whether anything may be said of the limb's volume now. Where not, no figure is given, and the state says why."""
    return view.enough and view.coming_28d_mm is not None and silent_for(facts, day) is None


def baseline_lacks(facts: Facts, day: date) -> list[Reason]:
    """What is missing of the baseline every change since the fitting is counted from."""
    socket = facts.socket_on(day)
    if socket is None:
        return [reason(WORDS, "no-socket")]
    if socket.stack_at_fitting is None:
        first = next(iter(facts.between(socket.fitted_on, day)), None)
        since = [sentence("no-baseline.since", on=first)] if first else []
        return [reason(WORDS, "no-baseline", sentence("no-baseline"), *since)]
    if not socket.stack_at_fitting and socket.baseline_unsure:
        return [reason(WORDS, "baseline-unsure")]
    return []


def lacks(facts: Facts, day: date) -> tuple[Reason, ...]:
    """What the percent rest on that is not known, in the few words that fit beside a figure: the code says it all."""
    found = []
    if facts.history.limb.reference_circumference_mm is None:
        found.append(Reason("no-circumference", "300 mm assumed as the circumference"))
    few = {
        "no-socket": "no socket entered",
        "no-baseline": "no sock stack at fitting entered",
        "baseline-unsure": "sock stack at fitting not entered, or none worn",
    }
    found += [Reason(one.code, few[one.code]) for one in baseline_lacks(facts, day)]
    socket = facts.socket_on(day)
    worn = [
        *(socket.stack_at_fitting or () if socket else ()),
        *(
            sock
            for one in facts.checkins(facts.between(day - timedelta(days=UNKNOWN_MAKE_DAYS - 1), day))
            for sock in one.stack
        ),
    ]
    if any(sock.ply and sock.make == "unknown" for sock in worn):
        found.append(Reason("unknown-make", "socks of unknown make"))
    return tuple(found)
