"""Readiness and outlook → what a prosthetist may plan, with reasons, checklists and what to have in stock.

Options, never orders: the tool says what each would mean and leaves the choice to the prosthetist.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta

from plytide.model import Assessment, Estimate, LimbHistory, Reason
from plytide.signals import Facts, alarms_open, short, weights
from plytide.thresholds import Thresholds

MEASURED_LATELY = 28  # days: judgement
WINDOW = 30  # days a cast is looked ahead
NOT_STEADY = ("sudden-change", "coming-change-outside", "coming-change-wide")  # codes of signals._volume_state
DISTAL_SHARE = 1.02  # an end wider than above by more than the tape's own error at 300 mm: judgement
LINER_FROM_END_MM = 40  # where a liner is sized, 4 cm above the end: common practice


@dataclass(frozen=True, slots=True)
class Option:
    code: str
    words: str
    because: str
    on: date | None = None
    until: date | None = None
    expected: Estimate | None = None  # mm of sock in the 30 days after the cast


@dataclass(frozen=True, slots=True)
class Check:
    """One line of a checklist: state is "ok", "stop" or "unknown"."""

    code: str
    text: str
    state: str
    because: str


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


def plan_of(history: LimbHistory, assessment: Assessment, thresholds: Thresholds) -> Plan:
    """Everything the planner shows of one limb on the assessment's day."""
    facts, day = Facts.of(history), assessment.as_of
    return Plan(
        missing=missing(facts, assessment, day),
        outlook=tuple(
            (one.days, one.if_cast_today_mm, coming_after(assessment, 21, one.days)) for one in assessment.outlook
        ),
        options=options(facts, assessment, day, thresholds),
        direct=direct_checks(facts, assessment, day, thresholds),
        cast=cast_checks(facts, assessment, day, thresholds),
        child=child_checks(facts, day) if facts.is_child(day) else (),
        stock=stock(facts, day),
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


def options(facts: Facts, assessment: Assessment, day: date, thresholds: Thresholds) -> tuple[Option, ...]:
    """What can be planned, the one that fits the readiness best first. All stay open to the prosthetist."""
    margin = thresholds.steady_margin_mm
    now, later = coming_after(assessment, 0, WINDOW), coming_after(assessment, 21, WINDOW)
    settles = assessment.settles_on

    def amount(estimate: Estimate | None) -> str:
        if estimate is None:
            return "The log does not allow an outlook yet."
        value, low, high = (_tenth(one) for one in (estimate.value, estimate.low, estimate.high))
        return f"In the {WINDOW} days after the cast expect {value} mm of sock [{low} to {high}]; the margin is ±{margin:g} mm.".replace("-", "−")

    three_weeks = day + timedelta(days=21)
    definitive = Option("definitive-now", "Cast for a definitive socket now", amount(now), on=day, expected=now)
    # "A brand-new limb changes so much that the first socket is treated as diagnostic …": common practice.
    two_step = Option(
        "diagnostic-then-definitive",
        "Diagnostic socket now, definitive in two to three weeks",
        f"For a definitive cast on {short(three_weeks)}: {_lower(amount(later))} "
        "Common practice for a limb that still changes.",
        on=day,
        until=three_weeks,
        expected=later,
    )
    until = settles.date if settles and settles.date > day else day + timedelta(days=14)
    lifted = "what holds it is lifted" if assessment.state == "held" else "the log says more"
    wait_words = f"Wait until about {short(until)}" if settles else f"Wait until {lifted}"
    wait = Option("wait", wait_words, assessment.reasons[0].text if assessment.reasons else "", until=until)
    order = {
        "steady": (definitive, two_step, wait),
        "settling": (wait, two_step, definitive) if settles else (two_step, wait, definitive),
        "changing": (two_step, wait, definitive),
        "due": (two_step, definitive, wait),
        "held": (wait, two_step, definitive),
        "gathering": (wait, two_step, definitive),
    }[assessment.state]
    return order


def _tenth(mm: float) -> str:
    return f"{round(mm, 1) + 0.0:.1f}"  # no minus before a nought


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def _trend_check(assessment: Assessment) -> Check:
    """What the volume alone says: a limb held for its skin, or due, may still be steady."""
    text = "Volume: the coming change is within the margin"
    said = {reason.code: reason.text for reason in assessment.reasons}
    if inside := said.get("coming-change-inside"):
        return Check("volume", text, "ok", inside)
    if found := next((said[code] for code in NOT_STEADY if code in said), None):
        return Check("volume", text, "stop", found)
    return Check("volume", text, "unknown", said.get("no-recent-days", "Too little logged to say."))


def _skin_check(facts: Facts, day: date, thresholds: Thresholds) -> Check:
    text = "Skin closed"
    alarms = alarms_open(facts, day, thresholds)
    if alarms:
        return Check("skin", text, "stop", f"Reported on {short(alarms[-1].date)}; see it before anything is made.")
    looked = [one for one in facts.checkins(facts.between(day - timedelta(days=13), day)) if one.skin_checked]
    if looked:
        return Check("skin", text, "ok", f"Looked at and nothing open said, last on {short(looked[-1].date)}.")
    return Check("skin", text, "unknown", "Nobody has said in two weeks that the skin was looked at.")


def _weight_check(facts: Facts, day: date) -> Check:
    text, socket = "Weight under the limit that the clinic entered", facts.socket_on(day)
    known = weights(facts, date.min, day)
    if socket is None or socket.weight_limit_kg is None or not known:
        return Check("weight", text, "unknown", "The limit or the weight is missing.")
    kg, limit = known[-1][1], socket.weight_limit_kg
    return Check("weight", text, "ok" if kg <= limit else "stop", f"{kg:g} kg; the limit entered is {limit:g} kg.")


def _shape_check(facts: Facts) -> Check:
    """A bulbous end can't be drawn out of a socket made on the limb: common practice."""
    text, shape = "The end is not wider than what is above it", facts.history.limb.shape
    measured = facts.history.measurements[-1] if facts.history.measurements else None
    if measured and len(measured.levels) > 1:
        ordered = sorted(measured.levels, key=lambda level: level.from_end_mm)
        above = min(level.circumference_mm for level in ordered[1:])
        if ordered[0].circumference_mm > DISTAL_SHARE * above:
            because = (
                f"On {short(measured.on)} the end measured {ordered[0].circumference_mm:g} mm, above it {above:g} mm."
            )
            return Check("shape", text, "stop", because)
    if shape == "bulbous":
        return Check("shape", text, "stop", "The shape is entered as bulbous: it would not draw out.")
    if shape is None:
        return Check("shape", text, "unknown", "The shape is not entered.")
    return Check("shape", text, "ok", f"The shape is entered as {shape}.")


def direct_checks(facts: Facts, assessment: Assessment, day: date, thresholds: Thresholds) -> tuple[Check, ...]:
    """Before a socket is made directly on the limb. Common practice; deep scars and sensation need eyes."""
    return (
        _shape_check(facts),
        _skin_check(facts, day, thresholds),
        _weight_check(facts, day),
        _trend_check(assessment),
        Check("scars", "No deep, drawn-in scar", "unknown", "Look and feel: no log can tell."),
    )


def cast_checks(facts: Facts, assessment: Assessment, day: date, thresholds: Thresholds) -> tuple[Check, ...]:
    """Before a cast with a check socket."""
    socket = facts.socket_on(day)
    tests = sum(one.purpose == "diagnostic" for one in facts.history.sockets)
    count = Check(
        "test-sockets",
        "Diagnostic sockets so far",
        "ok" if tests <= 2 else "unknown",
        f"{tests}. Some payers ask for a documented need beyond two (common practice).",
    )
    doffed = Check(
        "doffing",
        "A set time after taking the socket off, the same as last time",
        "unknown",
        "Ten minutes or more, thirty above the knee; limbs swell most at once (Zachariah 2004, Paterno 2021).",
    )
    worn = f"{socket.purpose.capitalize()} socket since {short(socket.fitted_on)}." if socket else "No socket entered."
    return (
        _skin_check(facts, day, thresholds),
        _trend_check(assessment),
        doffed,
        count,
        Check("worn", "Worn now", "ok" if socket else "unknown", worn),
    )


def child_checks(facts: Facts, day: date) -> tuple[Check, ...]:
    """For a child. Trade knowledge, from memory where no source is named."""
    recent = facts.checkins(facts.between(day - timedelta(days=27), day))
    signs = {sign for checkin in recent for sign in checkin.signs}
    bony = bool(signs & {"bony_point", "stretched_skin"})
    stuck = "cannot_get_fully_in" in signs
    return (
        Check(
            "bone",
            "No bony point or stretched skin at the end",
            "stop" if bony else "ok" if recent else "unknown",
            "Reported in the last four weeks: look for overgrowth first." if bony else "None reported in four weeks.",
        ),
        Check(
            "in",
            "The limb goes fully in",
            "stop" if stuck else "ok" if recent else "unknown",
            "Reported as not going fully in." if stuck else "No report against it in four weeks.",
        ),
        Check("room", "Room to grow: socks at fitting that can be taken off later", "unknown", "Plan the stack."),
        Check("school", "One visit instead of two where it can be", "unknown", "See the family's other visits."),
    )


def stock(facts: Facts, day: date) -> tuple[Item, ...]:
    """What the plan needs at hand. Sizes are the measured circumference, not a maker's table."""
    items = []
    measured = max((one for one in facts.history.measurements if one.on <= day), key=lambda one: one.on, default=None)
    if measured:
        end = min(measured.levels, key=lambda level: abs(level.from_end_mm - LINER_FROM_END_MM))
        size = f"{math.floor(end.circumference_mm / 10)} cm"
        because = f"Circumference {end.circumference_mm:g} mm at {end.from_end_mm:g} mm from the end, {short(measured.on)}; down to the whole centimetre (judgement: the maker's own table holds)."
        items.append(Item("liner", size, 1, because))
    last = facts.last_on(day)
    worn = facts.by_date[last][-1].stack if last else ()
    make = next((sock.make for sock in worn if sock.make != "unknown"), "any make")
    for ply, count in ((1, 4), (3, 2), (5, 1)):
        items.append(Item(f"{ply}-ply sock", make, count, "A new baseline needs thin steps again (judgement)."))
    items.append(Item("sheath", "", 2, "Judgement."))
    return tuple(items)
