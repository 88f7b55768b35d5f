"""Readiness, outlook and a reason → what a prosthetist may plan, with checklists and what to have in stock.

Options, never orders: the tool says what each would mean and leaves the choice to the prosthetist.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta

from plytide.engine import remake
from plytide.engine.checklists import (
    MEASURED_LATELY,
    Check,
    cast_checks,
    child_checks,
    direct_checks,
    reason_checks,
    skin_check,
    trend_check,
    weight_check,
)
from plytide.engine.day_words import in_ply
from plytide.engine.facts import Facts, days, short
from plytide.engine.known import OLD_DAYS
from plytide.engine.reasons import Cause, causes, chosen
from plytide.engine.thresholds import Thresholds
from plytide.model import Assessment, Estimate, LimbHistory, Reason

WINDOW = 30  # days a cast is looked ahead
LINER_FROM_END_MM = 40  # where a liner is sized, 4 cm above the end: common practice


@dataclass(frozen=True, slots=True)
class Option:
    code: str
    words: str
    because: str
    on: date | None = None
    until: date | None = None
    expected: Estimate | None = None  # mm of sock in the 30 days after the cast
    makes: str | None = None  # the purpose of the socket made first; None: no socket is made
    against: tuple[Check, ...] = ()  # checks for that kind of socket that stand against it
    good_days: Estimate | None = None  # of the coming year, if this way is taken


@dataclass(frozen=True, slots=True)
class Item:
    what: str
    size: str
    count: int
    because: str


@dataclass(frozen=True, slots=True)
class Plan:
    missing: tuple[Reason, ...]
    outlook: tuple[tuple[int, Estimate | None, Estimate | None], ...]  # days, if cast today, if cast in 21 days
    options: tuple[Option, ...]
    direct: tuple[Check, ...]
    cast: tuple[Check, ...]
    child: tuple[Check, ...]
    stock: tuple[Item, ...]
    reasons: tuple[Cause, ...]
    reason: Cause  # the one the options are for
    for_reason: tuple[Check, ...]
    remake: remake.Clock | None
    fit_note: str | None = None


def plan_of(history: LimbHistory, assessment: Assessment, thresholds: Thresholds, reason: str | None = None) -> Plan:
    """Everything the planner shows of one limb on the assessment's day, for a reason (None: the weightiest found)."""
    facts, day = Facts.of(history), assessment.as_of
    known = causes(facts, assessment, day, thresholds)
    why = chosen(known, reason)
    return Plan(
        missing=missing(facts, assessment, day),
        outlook=tuple(
            (one.days, one.if_cast_today_mm, coming_after(assessment, 21, one.days)) for one in assessment.outlook
        ),
        options=options(facts, assessment, day, thresholds, why),
        direct=direct_checks(facts, assessment, day, thresholds),
        cast=cast_checks(facts, assessment, day, thresholds),
        child=child_checks(facts, assessment, day) if facts.is_child(day) else (),
        stock=stock(facts, day),
        reasons=known,
        reason=why,
        for_reason=reason_checks(facts, day, why),
        remake=remake.clock_of(history, day, thresholds),
        fit_note=fit_note(assessment),
    )


def coming_after(assessment: Assessment, wait_days: int, days: int) -> Estimate | None:
    """mm of sock expected within `days` of a cast made `wait_days` from now.

    From the same forecast: what comes until then less what comes until the cast, quantile by quantile (all of one
    limb's futures move together), between the forecast's own days by straight lines.
    """
    if not assessment.outlook:
        return None
    points = [(0, Estimate(0.0, 0.0, 0.0)), *((one.days, one.if_cast_today_mm) for one in assessment.outlook)]
    end = wait_days + days
    if end > points[-1][0] + 21:
        return None
    ends = [_at(points, at) for at in (wait_days, end)]
    values = sorted((ends[1].low - ends[0].low, ends[1].high - ends[0].high))
    middle = ends[1].value - ends[0].value
    return Estimate(middle, min(values[0], middle), max(values[1], middle))


def _at(points: list[tuple[int, Estimate]], day: int) -> Estimate:
    """The forecast on a day between two of its own; past the last one, along the last line."""
    after = next((n for n, (at, _) in enumerate(points) if at >= day), len(points) - 1)
    (x0, y0), (x1, y1) = points[max(after - 1, 0)], points[after]
    share = (day - x0) / (x1 - x0) if x1 > x0 else 0.0
    return Estimate(
        y0.value + share * (y1.value - y0.value),
        y0.low + share * (y1.low - y0.low),
        y0.high + share * (y1.high - y0.high),
    )


def missing(facts: Facts, assessment: Assessment, day: date) -> tuple[Reason, ...]:
    limb, socket = facts.history.limb, facts.socket_on(day)
    found = []
    if limb.shape is None:
        found.append(Reason("shape", "Shape of the residual limb (conical, cylindrical, bulbous)."))
    if limb.deep_scar is None:
        found.append(Reason("deep-scar", "Whether there is a deep, drawn-in scar."))
    if limb.reference_circumference_mm is None:
        found.append(Reason("circumference", "Reference circumference: percent assume 300 mm until it is entered."))
    lately = [one for one in facts.history.measurements if 0 <= (day - one.on).days <= MEASURED_LATELY]
    if not lately:
        found.append(Reason("measurement", f"A tape measurement of the last {MEASURED_LATELY} days."))
    if socket is None:
        found.append(Reason("socket", "The socket worn now."))
    elif socket.weight_limit_kg is None:
        found.append(Reason("weight-limit", "The body-weight limit of the socket."))
    if not [
        one for one in facts.checkins(facts.between(day - timedelta(days=13), day)) if one.skin_checked or one.skin
    ]:
        found.append(Reason("skin", "A look at the skin: nobody has said so in two weeks."))
    if assessment.state == "gathering":
        found.append(Reason("log", "About two weeks of days with a check-in."))
    return tuple(found)


KEEP, WAIT, TWO_STEP, DEFINITIVE = "keep", "wait", remake.TWO_STEP, "definitive-now"
BY_STATE = {
    "steady": (DEFINITIVE, TWO_STEP, WAIT),
    "settling": (WAIT, TWO_STEP, DEFINITIVE),
    "changing": (TWO_STEP, WAIT, DEFINITIVE),
    "due": (TWO_STEP, DEFINITIVE, WAIT),
    "held": (WAIT, TWO_STEP, DEFINITIVE),
    "gathering": (WAIT, TWO_STEP, DEFINITIVE),
}
SERVES = ("none", "brim-pain")  # reasons for which the socket worn may go on serving


def order_of(reason: str, assessment: Assessment) -> tuple[str, ...]:
    """The codes of the ways, the one that fits reason and readiness best first. Judgement."""
    state, inside = assessment.state, any(one.code == "coming-change-inside" for one in assessment.reasons)
    if reason == "first-socket":
        return BY_STATE["held" if state == "held" else "steady" if state == "steady" else "changing"]
    if state == "held":  # health before all
        return (WAIT, KEEP, TWO_STEP, DEFINITIVE) if reason in SERVES else (WAIT, TWO_STEP, DEFINITIVE, KEEP)
    if reason in SERVES and state != "due":
        return (KEEP, DEFINITIVE, TWO_STEP, WAIT) if state == "steady" else (KEEP, WAIT, TWO_STEP, DEFINITIVE)
    if reason in ("broken", "worn-out") or state == "due":
        # It can't wait for the volume: where that still moves, a diagnostic socket bridges.
        return (DEFINITIVE, TWO_STEP, WAIT, KEEP) if state == "steady" or inside else (TWO_STEP, DEFINITIVE, WAIT, KEEP)
    if state == "settling" and assessment.settles_on is None:
        state = "changing"
    return (*BY_STATE[state], KEEP)


def options(facts: Facts, assessment: Assessment, day: date, thresholds: Thresholds, why: Cause) -> tuple[Option, ...]:
    """What can be planned for a reason, the one that fits best first. All stay open to the prosthetist."""
    margin, worn = thresholds.steady_margin_mm, facts.socket_on(day)
    now, later = coming_after(assessment, 0, WINDOW), coming_after(assessment, 21, WINDOW)

    last = facts.last_on(day)
    old = (day - last).days if last else 0

    def amount(estimate: Estimate | None) -> str:
        if last is not None and old >= OLD_DAYS:
            ended = f"The last check-in is {days(old)} old, of {short(last)}: ask for one before a day is set."
            return f"{ended} {known_amount(estimate)}"
        return known_amount(estimate)

    def known_amount(estimate: Estimate | None) -> str:
        if estimate is None:
            return "The log does not allow an outlook yet."
        value, low, high = (_tenth(one) for one in (estimate.value, estimate.low, estimate.high))
        ply = in_ply(estimate.value)
        amount = f"expect {ply}, {value} mm of sock [{low} to {high}]; the margin is ±{margin:g} mm."
        return f"In the {WINDOW} days after the cast {amount}".replace("-", "−")

    fit = assessment.recast
    skin = [one for one in (skin_check(facts, day, thresholds),) if one.state == "stop"]
    volume = [one for one in (trend_check(assessment),) if one.state == "stop"]
    over = [one for one in (weight_check(facts, day),) if one.state == "stop"]
    three_weeks = day + timedelta(days=21)
    another = worn is not None and worn.purpose == "diagnostic"
    ways = {
        DEFINITIVE: Option(
            DEFINITIVE,
            "Cast for a definitive socket now"
            if old < OLD_DAYS
            else "Cast for a definitive socket, once a new log agrees",
            amount(now) + _fit_words(fit.now if fit else None),
            on=day,
            expected=now,
            makes="definitive",
            against=(*skin, *volume),
            good_days=fit.now if fit else None,
        ),
        # "A brand-new limb changes so much that the first socket is treated as diagnostic …": common practice.
        TWO_STEP: Option(
            TWO_STEP,
            f"{'Another diagnostic' if another else 'Diagnostic'} socket now, definitive in two to three weeks",
            f"For a definitive cast on {short(three_weeks)}: {_lower(amount(later))} "
            "Common practice for a limb that still changes: a diagnostic socket may be made while it settles."
            + _fit_words(fit.two_step if fit else None),
            on=day,
            until=three_weeks,
            expected=later,
            makes="diagnostic",
            against=tuple(skin),
            good_days=fit.two_step if fit else None,
        ),
        WAIT: _with_best_day(wait_way(facts, assessment, day, thresholds, why), assessment),
        KEEP: Option(KEEP, *keep_words(facts, assessment, day, why), against=tuple(over)),
    }
    return tuple(ways[code] for code in order_of(why.code, assessment) if code != KEEP or worn is not None)


def _fit_words(good: Estimate | None) -> str:
    if good is None:
        return ""
    return f" Of the coming year {good.value:.0f} days [{good.low:.0f} to {good.high:.0f}] of good fit are expected."


def _with_best_day(way: Option, assessment: Assessment) -> Option:
    """Waiting, with the day on which a cast would serve longest."""
    best = assessment.recast.best if assessment.recast else None
    if best is None or best.date <= assessment.as_of:
        return way
    words = f" A cast about {short(best.date)} [{short(best.low)} to {short(best.high)}] would serve longest."
    return replace(way, because=way.because + words + _fit_words(best.good_days), good_days=best.good_days)


def fit_note(assessment: Assessment) -> str | None:
    """What days of good fit are, and how far ahead the log itself says how the limb changes."""
    fit = assessment.recast
    if fit is None:
        return None
    reach = (
        f"The log tells the coming change to within one thin sock for {fit.reaches_days} days"
        if fit.reaches_days
        else "The log does not yet tell the coming change to within one thin sock for two weeks"
    )
    return (
        f"A good fit is a day on which the limb lies within {fit.band_mm:g} mm, two thin socks, of what the socket "
        "then worn was made for; a new one is taken to be delivered 14 days after its cast. "
        f"{reach}; further on, the way limbs usually settle counts for more than this limb does."
    )


def wait_way(facts: Facts, assessment: Assessment, day: date, thresholds: Thresholds, why: Cause) -> Option:
    settles, clock = assessment.settles_on, remake.clock_of(facts.history, day, thresholds)
    because = assessment.reasons[0].text if assessment.reasons else ""
    if clock and why.code == "diagnostic-plan" and assessment.state != "held" and day < clock.first:
        return Option(WAIT, f"Wait until {short(clock.first)}, as planned", clock.words(day), until=clock.first)
    if settles and settles.date > day:
        return Option(WAIT, f"Wait until about {short(settles.date)}", because, until=settles.date)
    until = day + timedelta(days=14)
    if assessment.state in ("steady", "due"):
        return Option(WAIT, f"Wait, and look again about {short(until)}", because, until=until)
    lifted = "what holds it is lifted" if assessment.state == "held" else "the log says more"
    return Option(WAIT, f"Wait until {lifted}", because, until=until)


def keep_words(facts: Facts, assessment: Assessment, day: date, why: Cause) -> tuple[str, str]:
    """(words, because) of going on with the socket worn. Common practice where a practice is named."""
    if why.code == "brim-pain":
        return (
            "Keep this socket and see to its brim",
            "Trim lines and reliefs are what is adjusted first (common practice).",
        )
    if why.code == "broken":
        return "Keep this socket, if it can be mended", "What broke, and whether it can be mended, only you can see."
    if why.code == "worn-out":
        return "Keep this socket, with what is worn out renewed", "Liner and suspension can be renewed on their own."
    if why.code == "diagnostic-plan":
        return "Keep this socket for now", "The planned days stay as they are until a decision names another day."
    if why.code != "none":
        return "Keep this socket for now", why.text
    socket, parts = facts.socket_on(day), []
    if socket:
        parts.append(f"Fitted {days((day - socket.fitted_on).days)} ago.")
    comfort, counted = facts.comfort.mean(day - timedelta(days=13), day)
    if counted:
        parts.append(f"Comfort averages {comfort:.1f} of 10 on {days(counted)} of the last 14.")
    open_now = [signal.because for signal in assessment.signals if signal.kind != "silent"]
    if open_now:
        parts.append(f"No reason for another one was found. What is open: {open_now[0]}")
    elif counted:
        parts.append("Nothing in the log says that it no longer serves.")
    else:
        parts.append("Nothing was logged in two weeks, so nothing is known for another one or against it.")
    return "Keep this socket", " ".join(parts)


def _tenth(mm: float) -> str:
    return f"{round(mm, 1) + 0.0:.1f}"  # no minus before a nought


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def stock(facts: Facts, day: date) -> tuple[Item, ...]:
    """What the plan needs at hand. Sizes are the measured circumference, not a maker's table."""
    items = []
    measured = max((one for one in facts.history.measurements if one.on <= day), key=lambda one: one.on, default=None)
    if measured:
        end = min(measured.levels, key=lambda level: abs(level.from_end_mm - LINER_FROM_END_MM))
        size = f"{math.floor(end.circumference_mm / 10)} cm"
        because = (
            f"Circumference {end.circumference_mm:g} mm at {end.from_end_mm:g} mm from the end, {short(measured.on)}; "
            "down to the whole centimetre (judgement: the maker's own table holds)."
        )
        items.append(Item("liner", size, 1, because))
    last = facts.last_on(day)
    worn = facts.by_date[last][-1].stack if last else ()
    make = next((sock.make for sock in worn if sock.make != "unknown"), "any make")
    for ply, count in ((1, 4), (3, 2), (5, 1)):
        items.append(Item(f"{ply}-ply sock", make, count, "A new baseline needs thin steps again (judgement)."))
    items.append(Item("sheath", "", 2, "Judgement."))
    return tuple(items)
