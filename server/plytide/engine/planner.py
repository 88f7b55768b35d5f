"""Readiness, outlook and a reason → what a prosthetist may plan, with checklists and what to have in stock; and what
stands against a socket that is entered.

Options, never orders: the tool says what each would mean and leaves the choice to the prosthetist.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta

from plytide.engine import remake
from plytide.engine.day_words import in_ply
from plytide.engine.facts import Facts, days, short
from plytide.engine.known import OLD_DAYS
from plytide.engine.open_skin import alarms_open, skin_waits
from plytide.engine.reasons import Cause, causes, chosen
from plytide.engine.shape import shape_said
from plytide.engine.thresholds import Thresholds
from plytide.engine.weights import weights
from plytide.model import Assessment, Estimate, LimbHistory, Reason, Socket

MEASURED_LATELY = 28  # days: judgement
WINDOW = 30  # days a cast is looked ahead
WEEK = 7
NOT_STEADY = ("sudden-change", "coming-change-outside", "coming-change-wide")  # codes of signals._volume_state
# As reported by two pages that explain it (a maker's and a search page); its own text was not seen.
TWO_TESTS = (
    "Medicare in the US asks for a documented need beyond two for one prosthesis "
    "(Local Coverage Determination L33787); other payers have their own rules."
)
MAKER_FIRST = "They come before this list: limits of weight, shape, skin and wear are the maker’s to set."
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
    skin = [one for one in (_skin_check(facts, day, thresholds),) if one.state == "stop"]
    volume = [one for one in (_trend_check(assessment),) if one.state == "stop"]
    over = [one for one in (_weight_check(facts, day),) if one.state == "stop"]
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


def reason_checks(facts: Facts, day: date, why: Cause) -> tuple[Check, ...]:
    """What to look at for this reason, before anything is made. Trade practice, from memory; judgement."""

    def look(code: str, text: str, because: str) -> Check:
        return Check(code, text, "unknown", because)

    return {
        "broken": (look("break", "What broke, and under what", "A photo and a line in the record."),),
        "brim-pain": (
            look(
                "trim",
                "Trim lines and reliefs looked at first",
                "They are adjusted on the same socket (common practice).",
            ),
            look("socks", "Enough socks: a limb that sinks in hurts at the brim", "Trade practice, from memory."),
        ),
        "worn-out": (
            look("parts", "Which part is worn out: socket, liner, suspension", "Each can be renewed by itself."),
        ),
        "stack-due": (Check("stack", "Socks by the labels", "stop" if why.found else "unknown", why.text),),
        "outgrown": (
            look("length", "Leg length against the other side", "A limb that no longer goes in looks short."),
            look("room", "Room for the next growth in the stack at fitting", "Socks that can be taken off later."),
        ),
        "over-limit": (look("limit", "The limit entered is that of the weakest part", "As its maker states it."),),
        "diagnostic-plan": (
            look(
                "shape",
                "The diagnostic socket as it is worn now: where it was heated, padded, cut",
                "Copied or cast anew.",
            ),
        ),
    }.get(why.code, ())


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
    shape = _shape_check(facts)
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


def _tenth(mm: float) -> str:
    return f"{round(mm, 1) + 0.0:.1f}"  # no minus before a nought


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def _trend_check(assessment: Assessment) -> Check:
    """What the volume alone says: a limb held for its skin, or due, may still be steady."""
    text = "Volume: the coming change is within the margin"
    texts = {reason.code: reason.text for reason in assessment.reasons}
    if inside := texts.get("coming-change-inside"):
        return Check("volume", text, "ok", inside)
    if found := next((texts[code] for code in NOT_STEADY if code in texts), None):
        return Check("volume", text, "stop", found)
    return Check("volume", text, "unknown", texts.get("no-recent-days", "Too little logged to say."))


def _skin_check(facts: Facts, day: date, thresholds: Thresholds) -> Check:
    text = "Skin closed"
    alarms = alarms_open(facts, day, thresholds)
    if alarms:
        waits = skin_waits(facts, alarms, day, thresholds)
        return Check(
            "skin", text, "stop", f"Reported on {short(alarms[-1].date)}; see it before anything is made. {waits}"
        )
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
    """A bulging limb can't be drawn out of a socket made on it: common practice."""
    state, because = shape_said(facts.history.limb.shape, facts.history.measurements, date.max)
    return Check("shape", "No level is wider than one above it", state, because)


def _dialysis_check(facts: Facts, assessment: Assessment, day: date) -> tuple[Check, ...]:
    """On dialysis a limb is larger before a session than after it. Common practice: the same kind of day each time."""
    if "dialysis" not in facts.history.limb.tags:
        return ()
    swing = assessment.dialysis_swing_pct
    parts = [
        f"The limb is some {swing.value:.1f} % [{swing.low:.1f} to {swing.high:.1f}] larger before a session than on "
        "the morning after it.".replace("-", "−")
        if swing
        else "How much the limb changes between sessions is not known."
    ]
    measured = max((one.on for one in facts.history.measurements if one.on <= day), default=None)
    before = [one for one in facts.sessions if measured and one <= measured and (measured - one).days <= WEEK]
    if measured and before:
        gone = (measured - before[-1]).days
        parts.append(f"Last measured {'on the day of' if not gone else _after(gone)} a session ({short(measured)}).")
    last = [one for one in facts.sessions if one <= day]
    parts.append(f"Last session logged {short(last[-1])}." if last else "No session is logged.")
    text = "Cast on the same kind of day, counted from dialysis, as the last cast and measurement"
    return (Check("dialysis", text, "unknown", " ".join(parts)),)


def _after(count: int) -> str:
    return "the day after" if count == 1 else f"{count} days after"


def _scar_check(facts: Facts) -> Check:
    text, scar = "No deep, drawn-in scar", facts.history.limb.deep_scar
    if scar is None:
        return Check("scars", text, "unknown", "Look and feel: no log can tell.")
    return Check("scars", text, "stop" if scar else "ok", "Entered as there." if scar else "Entered as none.")


def direct_checks(facts: Facts, assessment: Assessment, day: date, thresholds: Thresholds) -> tuple[Check, ...]:
    """Before a socket is formed on the limb. Common practice; deep scars and sensation need eyes.

    No maker's own list is repeated here: what the maker of the material says comes first, and is asked for first.
    """
    return (
        Check("maker", "The maker’s instructions for the material and the parts", "unknown", MAKER_FIRST),
        _shape_check(facts),
        _skin_check(facts, day, thresholds),
        _weight_check(facts, day),
        _trend_check(assessment),
        *_dialysis_check(facts, assessment, day),
        _scar_check(facts),
    )


def cast_checks(facts: Facts, assessment: Assessment, day: date, thresholds: Thresholds) -> tuple[Check, ...]:
    """Before a cast with a check socket."""
    socket = facts.socket_on(day)
    tests = sum(one.purpose == "diagnostic" for one in facts.history.sockets)
    count = Check(
        "test-sockets",
        "Diagnostic sockets so far",
        "ok" if tests <= 2 else "unknown",
        f"{tests}. {TWO_TESTS}",
    )
    doffed = Check(
        "doffing",
        "A set time after taking the socket off, the same as last time",
        "unknown",
        "Ten minutes or more, thirty above the knee; limbs swell most at once (Zachariah 2004, Paterno 2021).",
    )
    volume = _trend_check(assessment)
    if volume.state == "stop":
        because = f"{volume.because} A diagnostic socket may be made while the limb settles (common practice)."
        volume = replace(volume, because=because)
    worn = f"{socket.purpose.capitalize()} socket since {short(socket.fitted_on)}." if socket else "No socket entered."
    return (
        _skin_check(facts, day, thresholds),
        volume,
        *_dialysis_check(facts, assessment, day),
        doffed,
        count,
        Check("worn", "Worn now", "ok" if socket else "unknown", worn),
    )


def _room(assessment: Assessment) -> str:
    grown = next((reason.text for reason in assessment.reasons if reason.code == "growing"), None)
    return f"{grown} Plan the stack." if grown else "Plan the stack."


def child_checks(facts: Facts, assessment: Assessment, day: date) -> tuple[Check, ...]:
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
        Check("room", "Room to grow: socks at fitting that can be taken off later", "unknown", _room(assessment)),
        Check("school", "One visit instead of two where it can be", "unknown", "See the family's other visits."),
    )


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
