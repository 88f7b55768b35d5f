"""Why another socket is talked about: what the log and the record show, with evidence, and what only eyes can tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from plytide.engine import remake
from plytide.engine.facts import Facts, short
from plytide.engine.thresholds import Thresholds
from plytide.engine.weights import weights
from plytide.model import Assessment

#: Found by the engine, the weightiest first.
FOUND = ("outgrown", "over-limit", "stack-due", "diagnostic-plan", "provisional-steady", "first-socket")
#: What a prosthetist can say who has the limb and the socket before them.
PICKED = {
    "broken": "The socket is broken.",
    "brim-pain": "It hurts at the brim.",
    "worn-out": "The socket, liner or suspension is worn out.",
    "other": "Something else.",
}
NONE = "none"
CODES = (*FOUND, *PICKED, NONE)


@dataclass(frozen=True, slots=True)
class Cause:
    """A reason to recast. `found` by the engine, or one that a prosthetist may pick."""

    code: str
    text: str
    found: bool
    evidence: tuple[str, ...] = ()


def causes(facts: Facts, assessment: Assessment, day: date, thresholds: Thresholds) -> tuple[Cause, ...]:
    """Those found, weightiest first; then those that can be picked; "none" last."""
    found = _found(facts, assessment, day, thresholds)
    hurting = next((one for one in assessment.signals if one.kind == "comfort-drop"), None)
    picked = []
    for code, text in PICKED.items():
        if code == "brim-pain" and hurting:
            text = f"{text} The log says: {hurting.because} Where, it can’t say."
            picked.append(Cause(code, text, False, hurting.evidence))
        else:
            picked.append(Cause(code, text, False))
    return (*found, *picked, Cause(NONE, "None seen.", not found))


def chosen(known: Sequence[Cause], asked: str | None) -> Cause:
    """The reason asked for, else the weightiest found, else none."""
    by_code = {one.code: one for one in known}
    if asked in by_code:
        return by_code[asked]
    if asked in FOUND:
        return Cause(asked, "The log does not show it.", False)
    return next((one for one in known if one.found), by_code[NONE])


def _found(facts: Facts, assessment: Assessment, day: date, thresholds: Thresholds) -> list[Cause]:
    socket, by_kind = facts.socket_on(day), {signal.kind: signal for signal in assessment.signals}
    found = []
    if signal := by_kind.get("outgrown"):
        found.append(Cause("outgrown", f"Outgrown: {signal.because}", True, signal.evidence))
    known = weights(facts, date.min, day)
    if socket and socket.weight_limit_kg and known and known[-1][1] > socket.weight_limit_kg:
        on, kg, checkin_id = known[-1]
        text = f"Over the limit: {kg:g} kg on {short(on)}; {socket.weight_limit_kg:g} kg is entered for this socket."
        found.append(Cause("over-limit", text, True, (checkin_id,) if checkin_id else ()))
    signal = by_kind.get("stack-limit")
    if signal and signal.level != "note":
        found.append(Cause("stack-due", f"Stack due: {signal.because}", True, signal.evidence))
    clock = remake.clock_of(facts.history, day, thresholds)
    if clock:
        found.append(Cause("diagnostic-plan", f"Planned from the diagnostic socket: {clock.words(day)}", True))
    elif socket and socket.purpose != "definitive" and assessment.state == "steady":
        since = f" since {short(assessment.since)}" if assessment.since else ""
        text = (
            f"The {socket.purpose} socket of {short(socket.fitted_on)} is provisional, and the limb is steady{since}."
        )
        found.append(Cause("provisional-steady", text, True))
    if socket is None and not clock:
        found.append(Cause("first-socket", "No socket is entered as worn now.", True))
    return found
