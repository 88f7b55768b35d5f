"""One page to read in a minute before the person comes in, and one for the payer's file. Pure: nouns in, lines out.

Each line says what it rests on: check-in ids, or "clinic" for what the clinic entered.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean
from typing import Any

from plytide.core.thickness import stack_thickness
from plytide.model import Assessment, CheckIn, Estimate, Socket
from plytide.signals import Facts, short

WEEK = timedelta(days=7)
MOST_LINES = 6

#: What a signal asks of the visit: (a question, what to look at). Trade practice; judgement.
PROMPTS = {
    "volume-loss": ("Which socks since then, and do they bottom out?", "Pressure at the end and below the knee cap."),
    "volume-gain": ("Anything new: medicine, illness, heat, dialysis?", "How far the limb goes in; swelling."),
    "stack-limit": ("How many socks by the evening?", "Rotation and stability with the full stack."),
    "comfort-drop": ("Where does it hurt, and when in the day?", "Brim, bony points, end of the limb."),
    "skin": ("Is it open, and since when off the socket?", "The whole skin, with touch and sight."),
    "wear-drop": ("What keeps you from wearing it?", "Donning, brim comfort, sweat."),
    "fall": ("How did it happen? Any injury?", "Suspension, alignment, length, the other side."),
    "weight": ("Weight lately, and why?", "The limit entered for the socket."),
    "silent": ("Was it the phone, or the leg?", "Whether logging can be made easier."),
    "outgrown": ("Does it go fully in? Does the leg look short?", "Brim marks, end contact, leg length."),
}


#: A decision on a recast, in words.
CHOICE_WORDS = {
    "diagnostic-now": "diagnostic socket now",
    "definitive-now": "definitive socket now",
    "diagnostic-then-definitive": "diagnostic now, definitive in some weeks",
    "wait": "wait",
    "other": "something else",
}
MOST_DECISIONS = 2
MOST_WHY = 160  # characters


@dataclass(frozen=True, slots=True)
class Line:
    text: str
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Head:
    head: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class VisitPage:
    who: str
    limb: str
    socket: str
    state: str
    changed: tuple[Line, ...]
    ask: tuple[str, ...]
    look: tuple[str, ...]
    recent: tuple[tuple[str, str], ...]  # (what, value) of the last two weeks
    decided: tuple[str, ...] = ()  # the newest standing decisions on a recast


def signed(value: float) -> str:
    """With its sign, and none before a nought."""
    return f"{value:+.1f}".replace("-", "−") if round(value, 1) else "0.0"


def interval(estimate: Estimate, unit: str) -> str:
    return f"{signed(estimate.value)} {unit} [{signed(estimate.low)} to {signed(estimate.high)}]"


def full(day: date) -> str:
    """8 April 2026: a printed page outlives its year."""
    return f"{short(day)} {day.year}"


def years(born_on: date, day: date) -> int:
    """Whole years lived."""
    return day.year - born_on.year - ((day.month, day.day) < (born_on.month, born_on.day))


def socket_words(socket: Socket | None, day: date) -> str:
    if socket is None:
        return "No socket entered."
    made = {"cast": "cast and modified", "digital": "digital", "direct": "made directly on the limb", None: ""}
    parts = [socket.purpose, made[socket.made], (socket.suspension or "").replace("_", " "), socket.material or ""]
    months = (day - socket.fitted_on).days / 30.4
    mm = stack_thickness(socket.stack_at_fitting)[0]
    words = ", ".join(part for part in parts if part)
    return f"{words.capitalize()}; fitted {full(socket.fitted_on)} ({months:.0f} months), {mm:.1f} mm of sock then."


def stack_words(checkin: CheckIn) -> str:
    plies = " + ".join("sheath" if sock.ply == 0 else f"{sock.ply}-ply" for sock in checkin.stack) or "no sock"
    return f"{plies} ({stack_thickness(checkin.stack)[0]:.1f} mm)"


def mean_of(checkins: Sequence[CheckIn], field: str) -> str:
    said = [value for checkin in checkins if (value := getattr(checkin, field)) is not None]
    return f"{fmean(said):.1f}" if said else "not said"


def decided_words(decisions: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """The newest decisions that were not taken back (`on`, `by`, `choice`, `planned_on`, `reasons`, `note`), a line each."""
    lines = []
    for one in [each for each in decisions if not each["taken_back_at"]][:MOST_DECISIONS]:
        planned = f", for {full(date.fromisoformat(one['planned_on']))}" if one["planned_on"] else ""
        why = " ".join(part for part in (*one["reasons"], one["note"]) if part)
        short_why = why if len(why) <= MOST_WHY else why[: MOST_WHY - 1] + "…"
        choice = CHOICE_WORDS.get(one["choice"], one["choice"])
        lines.append(f"{full(date.fromisoformat(one['on']))}, {one['by']}: {choice}{planned}. {short_why}".rstrip())
    return tuple(lines)


def state_words(assessment: Assessment) -> str:
    """The state and its first reason; a reason that opens with the state's own word says it once."""
    state = assessment.state.capitalize()
    if not assessment.reasons:
        return state
    why = assessment.reasons[0].text
    return why if why.startswith(f"{state}:") else f"{state}: {why}"


def visit_page(facts: Facts, name: str, assessment: Assessment) -> VisitPage:
    """The page before a visit, on the assessment's day."""
    limb, day = facts.history.limb, assessment.as_of
    age = f", {years(limb.born_on, day)} years" if limb.born_on else ""
    since = f", amputated {full(limb.amputated_on)}" if limb.amputated_on else ""
    changed = [Line(signal.because, signal.evidence) for signal in assessment.signals]
    if assessment.change_pct:
        changed.append(Line(f"Volume since this socket was fitted: {interval(assessment.change_pct, '%')}."))
    if assessment.change_28d_pct:
        changed.append(Line(f"Volume in the last 28 days: {interval(assessment.change_28d_pct, '%')}."))
    prompts = [PROMPTS[signal.kind] for signal in assessment.signals]
    fortnight = facts.checkins(facts.between(day - 2 * WEEK + timedelta(days=1), day))
    last = facts.last_on(day)
    recent = [
        ("Check-ins in 14 days", str(len(fortnight))),
        ("Last stack", stack_words(facts.by_date[last][-1]) + f", {short(last)}" if last else "none"),
        ("Comfort, mean (10 is best)", mean_of(fortnight, "comfort")),
        ("Hours worn, mean", mean_of(fortnight, "hours_worn")),
        ("Falls", str(sum(checkin.falls or 0 for checkin in fortnight))),
    ]
    notes = [Line(f"“{one.note}” ({short(one.date)})", (one.id,)) for one in fortnight if one.note]
    return VisitPage(
        who=f"{name}{age}",
        limb=f"{limb.side.capitalize()} {limb.level.replace('_', ' ')}{since}",
        socket=socket_words(facts.socket_on(day), day),
        state=state_words(assessment),
        changed=tuple(changed[:MOST_LINES] + notes[-2:]),
        ask=tuple(dict.fromkeys(ask for ask, _ in prompts[:MOST_LINES])) or ("How is the socket through the day?",),
        look=tuple(dict.fromkeys(look for _, look in prompts[:MOST_LINES])) or ("Skin, brim, end contact.",),
        recent=tuple(recent),
    )


def payer_page(facts: Facts, name: str, assessment: Assessment) -> tuple[Head, ...]:
    """Supporting evidence under the usual documentation heads (CMS LCD L33787: changes in the residual limb,
    functional need changes, irreparable damage or wear). Patient-reported; the treating record decides."""
    day, socket = assessment.as_of, facts.socket_on(assessment.as_of)
    first = socket.fitted_on if socket else day - timedelta(days=120)
    logged = facts.checkins(facts.between(first, day))
    limb_lines = []
    if assessment.change_pct:
        limb_lines.append(
            Line(f"Volume against the day of fitting: {interval(assessment.change_pct, '%')} (90 % interval).")
        )
    if logged:
        before, now = logged[0], logged[-1]
        limb_lines.append(
            Line(
                f"Sock stack {stack_words(before)} on {full(before.date)}, {stack_words(now)} on {full(now.date)}.",
                (before.id, now.id),
            )
        )
    measured = [one for one in facts.history.measurements if one.on <= day and one.levels]
    if len(measured) > 1:
        limb_lines.append(
            Line(f"Tape measurements by the clinic on {', '.join(full(one.on) for one in measured[-4:])}.")
        )
    kinds = {signal.kind: signal for signal in assessment.signals}

    def said(*wanted: str) -> list[Line]:
        return [Line(kinds[kind].because, kinds[kind].evidence) for kind in wanted if kind in kinds]

    limb_lines += said("stack-limit", "volume-loss", "volume-gain", "outgrown", "skin")
    function = said("comfort-drop", "wear-drop", "fall")
    month = facts.checkins(facts.between(day - timedelta(days=29), day))
    function.append(
        Line(
            f"Hours worn a day, mean of 30 days: {mean_of(month, 'hours_worn')}; comfort {mean_of(month, 'comfort')} of 10."
        )
    )
    wear = said("weight")
    wear.append(Line("Damage to the socket: to be stated by the prosthetist after inspection."))
    days_logged = len({checkin.date for checkin in logged})
    basis = (
        f"{len(logged)} check-ins on {days_logged} days since {full(first)}, written by the wearer or a caregiver "
        "(patient-reported). Supporting evidence only: the treating practitioner's own record decides."
    )
    return (
        Head("Changes in the residual limb", tuple(limb_lines) or (Line("None can be shown from the log."),)),
        Head("Functional need", tuple(function)),
        Head("Wear and damage", tuple(wear)),
        Head("Basis of this page", (Line(basis),)),
    )
