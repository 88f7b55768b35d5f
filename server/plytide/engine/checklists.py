"""What is looked at before a socket is made or changed, line by line: for a reason, and for each way of making it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from plytide.engine.facts import Facts, short
from plytide.engine.open_skin import alarms_open, skin_waits_words
from plytide.engine.reasons import Cause
from plytide.engine.shape import shape_words
from plytide.engine.thresholds import Thresholds
from plytide.engine.weights import weights
from plytide.model import Assessment

MEASURED_LATELY = 28  # days: judgement
WEEK = 7
NOT_STEADY = ("sudden-change", "coming-change-outside", "coming-change-wide")  # codes of readiness._volume_state
# As reported by two pages that explain it (a maker's and a search page); its own text was not seen.
TWO_TESTS = (
    "Medicare in the US asks for a documented need beyond two for one prosthesis "
    "(Local Coverage Determination L33787); other payers have their own rules."
)
MAKER_FIRST = "They come before this list: limits of weight, shape, skin and wear are the maker’s to set."


@dataclass(frozen=True, slots=True)
class Check:
    """One line of a checklist: state is "ok", "stop" or "unknown"."""

    code: str
    text: str
    state: str
    because: str


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


def trend_check(assessment: Assessment) -> Check:
    """What the volume alone says: a limb held for its skin, or due, may still be steady."""
    text = "Volume: the coming change is within the margin"
    texts = {reason.code: reason.text for reason in assessment.reasons}
    if inside := texts.get("coming-change-inside"):
        return Check("volume", text, "ok", inside)
    if found := next((texts[code] for code in NOT_STEADY if code in texts), None):
        return Check("volume", text, "stop", found)
    return Check("volume", text, "unknown", texts.get("no-recent-days", "Too little logged to say."))


def skin_check(facts: Facts, day: date, thresholds: Thresholds) -> Check:
    text = "Skin closed"
    alarms = alarms_open(facts, day, thresholds)
    if alarms:
        waits = skin_waits_words(facts, alarms, day, thresholds)
        return Check(
            "skin", text, "stop", f"Reported on {short(alarms[-1].date)}; see it before anything is made. {waits}"
        )
    looked = [one for one in facts.checkins(facts.between(day - timedelta(days=13), day)) if one.skin_checked]
    if looked:
        return Check("skin", text, "ok", f"Looked at and nothing open said, last on {short(looked[-1].date)}.")
    return Check("skin", text, "unknown", "Nobody has said in two weeks that the skin was looked at.")


def weight_check(facts: Facts, day: date) -> Check:
    text, socket = "Weight under the limit that the clinic entered", facts.socket_on(day)
    known = weights(facts, date.min, day)
    if socket is None or socket.weight_limit_kg is None or not known:
        return Check("weight", text, "unknown", "The limit or the weight is missing.")
    kg, limit = known[-1][1], socket.weight_limit_kg
    return Check("weight", text, "ok" if kg <= limit else "stop", f"{kg:g} kg; the limit entered is {limit:g} kg.")


def shape_check(facts: Facts) -> Check:
    """A bulging limb can't be drawn out of a socket made on it: common practice."""
    state, because = shape_words(facts.history.limb.shape, facts.history.measurements, date.max)
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
        shape_check(facts),
        skin_check(facts, day, thresholds),
        weight_check(facts, day),
        trend_check(assessment),
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
    volume = trend_check(assessment)
    if volume.state == "stop":
        because = f"{volume.because} A diagnostic socket may be made while the limb settles (common practice)."
        volume = replace(volume, because=because)
    worn = f"{socket.purpose.capitalize()} socket since {short(socket.fitted_on)}." if socket else "No socket entered."
    return (
        skin_check(facts, day, thresholds),
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
