"""One page to read in a minute before the person comes in, and one for the payer's file. Pure: nouns in, lines out.

Each line says what it rests on: check-in ids, or "clinic" for what the clinic entered.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean
from typing import Any

from plytide.engine.core.thickness import stack_thickness
from plytide.engine.day_words import days, full, many, short, worn_for
from plytide.engine.day_words import stack as sock_words
from plytide.engine.facts import Facts
from plytide.engine.signals import kind_of
from plytide.engine.staff_words import FINDING, LEVEL, MADE, MATERIAL, PLACE, STATE, SUSPENSION, TAG, listed, word_of
from plytide.engine.worn import Strip, codes, differ, fit_since, mornings, strip, usual
from plytide.model import Assessment, CheckIn, Estimate, Sock, Socket

WEEK = timedelta(days=7)

#: What a growing person is asked at each visit, and what is looked at. The one list; trade practice, judgement.
CHILD_ASK = (
    "Grown since the last visit: height, and the shoe of the other foot?",
    "Does it still go fully in, and which socks were left off?",
    "Any point that hurts, or tight skin, at the end of the limb?",
    "School, sport, play: what does the leg keep them from?",
)
CHILD_LOOK = ("Outgrown: brim marks, end contact, leg length.", "Overgrowth: the end of the bone, by touch.")

#: A decision on a recast, in words.
CHOICE_WORDS = {
    "diagnostic-now": "diagnostic socket now",
    "definitive-now": "definitive socket now",
    "diagnostic-then-definitive": "diagnostic now, definitive in some weeks",
    "wait": "wait",
    "keep": "keep this socket",
    "other": "something else",
}
UNKNOWN = ("too-few-days", "no-recent-days", "no-checkins")
MOST_DECISIONS = 2
SKIN_WEEKS = 6
MOST_SKIN = 3


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
    reading: str = ""  # the facts of the person that change how everything is read
    strip: Strip | None = None  # four weeks of what the days began with


def signed(value: float) -> str:
    """With its sign, and none before a nought."""
    return f"{value:+.1f}".replace("-", "−") if round(value, 1) else "0.0"


def interval(estimate: Estimate, unit: str) -> str:
    return f"{signed(estimate.value)} {unit} [{signed(estimate.low)} to {signed(estimate.high)}]"


def years(born_on: date, day: date) -> int:
    """Whole years lived."""
    return day.year - born_on.year - ((day.month, day.day) < (born_on.month, born_on.day))


def socket_words(socket: Socket | None, day: date) -> str:
    if socket is None:
        return "No socket entered."
    known = ((MADE, socket.made), (SUSPENSION, socket.suspension), (MATERIAL, socket.material))
    parts = [socket.purpose, *(word_of(names, code) for names, code in known if code and code != "other")]
    words = ", ".join(part for part in parts if part)
    then = baseline_words(socket)
    return f"{words.capitalize()}; fitted {full(socket.fitted_on)} ({worn_for((day - socket.fitted_on).days)}), {then}."


def baseline_words(socket: Socket) -> str:
    """What was worn at the fitting; what was not entered is not taken for no sock."""
    if socket.stack_at_fitting is None:
        return "sock stack at fitting not entered"
    if not socket.stack_at_fitting:
        return "no sock then, or not entered" if socket.baseline_unsure else "no sock then"
    return f"{stack_words(socket.stack_at_fitting)} then"


def lacking(assessment: Assessment) -> str:
    """What the percent rest on that is not known, in brackets behind them."""
    words = "; ".join(one.text for one in assessment.lacks)
    return f" ({words})" if words else ""


def not_known(assessment: Assessment) -> Line | None:
    """Why no figure of the volume is given, where none is."""
    why = next((one.text for one in assessment.reasons if one.code in UNKNOWN), None)
    return Line(f"Volume: {why[:1].lower()}{why[1:]}") if why and assessment.change_pct is None else None


def stack_words(stack: Sequence[Sock]) -> str:
    plies = " + ".join("sheath" if sock.ply == 0 else f"{sock.ply}-ply" for sock in stack) or "no sock"
    return f"{plies} ({stack_thickness(stack)[0]:.1f} mm)"


def mean_of(checkins: Sequence[CheckIn], field: str) -> str:
    given = [value for checkin in checkins if (value := getattr(checkin, field)) is not None]
    return f"{fmean(given):.1f}" if given else "not said"


def decided_words(decisions: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """The newest decisions that were not taken back (`on`, `by`, `choice`, `planned_on`, `reasons`, `note`), a line
    each.
    """
    lines = []
    for one in [each for each in decisions if not each["taken_back_at"]][:MOST_DECISIONS]:
        planned = f", for {full(date.fromisoformat(one['planned_on']))}" if one["planned_on"] else ""
        why = " ".join(part for part in (*one["reasons"], one["note"]) if part)
        choice = CHOICE_WORDS.get(one["choice"], one["choice"])
        lines.append(f"{full(date.fromisoformat(one['on']))}, {one['by']}: {choice}{planned}. {why}".rstrip())
    return tuple(lines)


def state_words(assessment: Assessment) -> str:
    """The state and its first reason; a reason that opens with the state's own word says it once."""
    state = word_of(STATE, assessment.state).capitalize()
    if not assessment.reasons:
        return state
    why = assessment.reasons[0].text
    alone = why.startswith(f"{state}:") or assessment.reasons[0].code in ("growing", *UNKNOWN)
    return why if alone else f"{state}: {why}"


def visit_page(facts: Facts, name: str, assessment: Assessment) -> VisitPage:
    """The page before a visit, on the assessment's day."""
    limb, day = facts.history.limb, assessment.as_of
    age = f", {many(years(limb.born_on, day), 'year')}" if limb.born_on else ""
    since = f", amputated {full(limb.amputated_on)}" if limb.amputated_on else ""
    changed = [Line(signal.because, signal.evidence) for signal in assessment.signals]
    if assessment.change_pct:
        since_fitted = interval(assessment.change_pct, "%")
        changed.append(Line(f"Volume since this socket was fitted: {since_fitted}{lacking(assessment)}."))
    if assessment.change_28d_pct:
        changed.append(Line(f"Volume in the last 28 days: {interval(assessment.change_28d_pct, '%')}."))
    if unknown := not_known(assessment):
        changed.append(unknown)
    if swing := assessment.dialysis_swing_pct:
        changed.append(Line(f"Larger before a dialysis session than the morning after: {interval(swing, '%')}."))
    grown = next((one.text for one in assessment.reasons[1:] if one.code == "growing"), None)
    if grown:
        changed.append(Line(grown))
    child = facts.is_child(day)
    asked = [kind_of(signal.kind) for signal in assessment.signals]
    fortnight = facts.checkins(facts.between(day - 2 * WEEK + timedelta(days=1), day))
    last = facts.last_on(day)
    recent = [
        ("Check-ins in 14 days", str(len(fortnight))),
        ("Last stack", stack_words(facts.by_date[last][-1].stack) + f", {short(last)}" if last else "none"),
        ("Socks, usual of the week", _socks_then_and_now(facts, day)),
        ("Comfort, mean (10 is best)", _comfort_then_and_now(facts, day, fortnight)),
        (f"Skin, {SKIN_WEEKS} weeks", _skin(facts, day)),
        ("Hours worn, mean", mean_of(fortnight, "hours_worn")),
        ("Falls", str(sum(checkin.falls or 0 for checkin in fortnight))),
    ]
    notes = [Line(f"“{one.note}” ({short(one.date)})", (one.id,)) for one in fortnight if one.note]
    return VisitPage(
        who=f"{name}{age}",
        limb=f"{limb.side.capitalize()} {word_of(LEVEL, limb.level)}{since}",
        socket=socket_words(facts.socket_on(day), day),
        state=state_words(assessment),
        changed=tuple(changed + notes[-2:]),
        ask=tuple(dict.fromkeys([*(one.ask for one in asked), *(CHILD_ASK if child else ())]))
        or ("How is the socket through the day?",),
        look=tuple(dict.fromkeys([*(one.look for one in asked), *(CHILD_LOOK if child else ())]))
        or ("Skin, brim, end contact.",),
        recent=tuple(recent),
        reading=listed(TAG, assessment.reading_tags),
        strip=strip(facts.history, facts.checkins(facts.dates), day) if facts.dates else None,
    )


def _socks_then_and_now(facts: Facts, day: date) -> str:
    """The usual stack of this week, and of the same week four weeks ago where it was another one in the same fit."""
    known = facts.checkins(facts.dates)
    now = usual([stack for _, stack in mornings(known, day - WEEK + timedelta(days=1), day)])
    if now is None:
        return "not said"
    since, back = fit_since(facts.history, day), day - 4 * WEEK
    then = usual([stack for _, stack in mornings(known, max(since or back, back - WEEK + timedelta(days=1)), back)])
    words = sock_words(codes(now))
    return f"{words}, was {sock_words(codes(then))} four weeks ago" if then and differ(then, now) else words


def _comfort_then_and_now(facts: Facts, day: date, fortnight: Sequence[CheckIn]) -> str:
    before = facts.checkins(facts.between(day - 4 * WEEK + timedelta(days=1), day - 2 * WEEK))
    now, then = mean_of(fortnight, "comfort"), mean_of(before, "comfort")
    return f"{now}; in the two weeks before {then}" if fortnight and before else now


def _skin(facts: Facts, day: date) -> str:
    """What was found where, on how many days and when last; or that it was looked at and nothing found."""
    logged = facts.checkins(facts.between(day - SKIN_WEEKS * WEEK + timedelta(days=1), day))
    found: dict[tuple[str, str], set[date]] = {}
    for one in logged:
        for each in one.skin:
            found.setdefault((each.finding, each.place), set()).add(one.date)
    if not found:
        return "looked at, nothing found" if any(one.skin_checked for one in logged) else "nothing said"
    newest = sorted(found.items(), key=lambda one: max(one[1]), reverse=True)[:MOST_SKIN]
    return "; ".join(
        f"{word_of(FINDING, what)}, {word_of(PLACE, where)} ({days(len(on))}, last {short(max(on))})"
        for (what, where), on in newest
    )


def _place_under(head: str, kind: str) -> int | None:
    payer = kind_of(kind).payer
    return payer[1] if payer and payer[0] == head else None


def payer_page(facts: Facts, name: str, assessment: Assessment) -> tuple[Head, ...]:
    """Supporting evidence under the usual documentation heads (CMS LCD L33787: changes in the residual limb,
    functional need changes, irreparable damage or wear). Patient-reported; the treating record decides."""
    day, socket = assessment.as_of, facts.socket_on(assessment.as_of)
    first = socket.fitted_on if socket else day - timedelta(days=120)
    logged = facts.checkins(facts.between(first, day))
    limb_lines = []
    if assessment.change_pct:
        limb_lines.append(
            Line(
                f"Volume against the day of fitting: {interval(assessment.change_pct, '%')} (90 % interval)"
                f"{lacking(assessment)}."
            )
        )
    elif unknown := not_known(assessment):
        limb_lines.append(unknown)
    if logged:
        before, now = logged[0], logged[-1]
        limb_lines.append(
            Line(
                f"Sock stack {stack_words(before.stack)} on {full(before.date)}, "
                f"{stack_words(now.stack)} on {full(now.date)}.",
                (before.id, now.id),
            )
        )
    measured = [one for one in facts.history.measurements if one.on <= day and one.levels]
    if len(measured) > 1:
        limb_lines.append(
            Line(f"Tape measurements by the clinic on {', '.join(full(one.on) for one in measured[-4:])}.")
        )
    kinds = {signal.kind: signal for signal in reversed(assessment.signals)}  # of each kind the most urgent

    def lines_of(head: str) -> list[Line]:
        """What stands as evidence under a head, in the register's order."""
        under = sorted((place, one) for one in kinds if (place := _place_under(head, one)) is not None)
        return [Line(kinds[one].because, kinds[one].evidence) for _, one in under]

    limb_lines += lines_of("limb")
    function = lines_of("function")
    month = facts.checkins(facts.between(day - timedelta(days=29), day))
    function.append(
        Line(
            f"Hours worn a day, mean of 30 days: {mean_of(month, 'hours_worn')}; "
            f"comfort {mean_of(month, 'comfort')} of 10."
        )
    )
    wear = lines_of("wear")
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
