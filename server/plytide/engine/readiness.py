"""The readiness of a limb for another socket, with its reasons. A signal for the prosthetist, never a verdict."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from plytide.engine import dangers
from plytide.engine.core.limb_volume import swollen_share
from plytide.engine.dangers import heard_on
from plytide.engine.facts import ALARM_SHOWN_DAYS, Facts, Gain, mm_said, stack_over
from plytide.engine.growth import growing, growth_of
from plytide.engine.known import OLD_DAYS, SOCK_SCALE_SD, UNKNOWN_MAKE_SD, baseline_lacks, is_known, lacks, silent_for
from plytide.engine.open_skin import WORDS as SKIN_WORDS
from plytide.engine.open_skin import alarms_open, danger_look, danger_unseen, skin_waits
from plytide.engine.sentences import reason, sentence
from plytide.engine.shape import WORDS as SHAPE_WORDS
from plytide.engine.shape import shape_said
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import CONSTANTS, VolumeView
from plytide.engine.weights import alike, heart_gain, weights
from plytide.model import Reason, Sentence, Signal, Value

SWOLLEN = 0.95  # of the swelling after doffing, before a tape says much: judgement, after Zachariah 2004
TAPE_AGAINST = "tape-against-log"
ENOUGH_OF_SEVEN = 5  # diary days: judgement, after 85 % completion (Ono 2019)

WORDS = {
    "heart-weight-gain.days": (
        "Weight up {kg:.1f} kg in {span:days} ({before:g} kg on {first:day} to {after:g} kg on {last:day}), with heart "
        "failure: what the limb takes up now may be fluid, and their heart team comes first."
    ),
    "heart-weight-gain.within-a-day": (
        "Weight up {kg:.1f} kg within a day ({before:g} kg on {first:day} to {after:g} kg on {last:day}), with heart "
        "failure: what the limb takes up now may be fluid, and their heart team comes first."
    ),
    "heart-weight-gain.waits": (
        "Lifted when {back:g} kg or less is weighed, or from {until:day} on once the clinic has acknowledged or closed "
        "what the phone said of it, if no further fast gain is weighed."
    ),
    "weight-over-limit": (
        "{kg:g} kg is over the {limit:g} kg entered for this socket. Lifted when the weight is under it, or the clinic "
        "enters another limit."
    ),
    "pregnancy": ("Volume is expected to move through pregnancy and some time after. Lifted when the profile says so."),
    "context-new_medicine": (
        "A new medicine was noted on {on:day}; it can move volume, so a quiet trend may not last. Lifted on "
        "{until:day}, unless noted again."
    ),
    "weight-moved": (
        "Weight moved from {before:g} to {after:g} kg within four weeks. Lifted when it has moved less than {limit:g} "
        "kg in four weeks."
    ),
    "too-few-days.one-day": "Not known yet: check-ins on {logged:days}.",
    "too-few-days": "Not known yet: check-ins on {logged:days}, the last {span:days} after the first.",
    "too-few-days.needed": "Needed are {count} days or more, the last at least {span} days after the first.",
    "too-few-days.until-then": "Until then no change and no forecast is given.",
    "no-recent-days": (
        "No check-in for {quiet:days}, since {on:day}: what the limb does now is not known, so no change and no "
        "forecast is given."
    ),
    "coming.stays": (
        "By the log so far the change stays within ±{margin:g} mm for {length:days} or more, 9 times in 10."
    ),
    "coming.stays-a-year": (
        "By the log so far the change stays within ±{margin:g} mm for a year or more, 9 times in 10."
    ),
    "early-after-amputation": (
        "{weeks} weeks since the amputation. Until about week {until} the average limb still loses more than a thin "
        "sock in four weeks."
    ),
    "few-recent-days": "Check-ins on {count} of the last 7 days; with {enough} or more, changes show sooner.",
    "context.noted": "{tag:DAY_TAG} noted on {on:day}.",
    "redness-minutes-unknown": (
        "Redness on {on:day}: how long it stayed was not said, so whether it was too long is not known."
    ),
    "unknown-make": (
        "Socks of unknown make are worn: a millimetre may be off by {unknown:.0%} either way, instead of {usual:.0%}."
    ),
    "copied-answers": ("{count} of {all} answers in four weeks were copied from the day before; they say less."),
    "measured-early": (
        "The tape measurement of {on:day} was taken {minutes:g} minutes after the socket came off: the limb was still "
        "swelling. Ten minutes or more say more."
    ),
    "tape-against-log": (
        "The tape of {on:day} and the log do not agree: {taped:+.1f} % by the tape since {since:day}, {logged:+.1f} % "
        "by the log. Tapes differ by up to {limit:.1f} %. Measure again, and look at the socks that are logged."
    ),
}
# The state, then what is expected: by a log of these days, or by one that ended some days ago.
_BRING = "to bring {mm:socks}, {mm:.1f} mm [{low:.1f} to {high:.1f}] of sock; the margin is ±{margin:g} mm."
for _code, _words in {
    "coming.steady": "Steady",
    "coming.within": "Within the margin for now",
    "coming.settling": "Still settling",
    "coming.not-within": "Not within the margin yet",
    "coming.sudden": "A sudden change was found",
    "coming.unsteady": "Not known to be steady",
}.items():
    WORDS[_code] = f"{_words}: the coming 28 days are expected {_BRING}"
    WORDS[f"{_code}-old-log"] = (
        f"{_words}: by a log that ends {{old:days}} ago, {{on:day}}, the 28 days from now are expected {_BRING}"
    )

#: Of all that may hold a recast back.
HELD_WORDS = dangers.WORDS | SKIN_WORDS | WORDS


def readiness_of(
    facts: Facts, view: VolumeView, signals: Sequence[Signal], day: date, thresholds: Thresholds
) -> tuple[str, date | None, tuple[Reason, ...]]:
    """(state, since, reasons). A signal for the prosthetist, never a verdict.

    Health before all: held, then due, then what the volume says.
    """
    state, since, first = _volume_state(facts, view, day, thresholds)
    reasons = [first, *view.reasons, *_cautions(facts, view, day, thresholds)]
    if facts.is_child(day) and is_known(facts, view, day):
        grown = growing(growth_of(facts, view, day))
        if state in ("steady", "settling"):
            # A growing limb does neither: what counts is the room left, and by when it is used up.
            state, since, first = "changing", view.unsettled_since or since, grown
            reasons.insert(0, grown)
        else:
            reasons.insert(1, grown)
    quiet = state in ("steady", "settling") or first.code == "growing"
    if quiet and (context := _context(facts, day, thresholds)):
        state, since = "held", context[0]
        reasons.insert(0, context[1])
    due = _due(facts, day, signals, thresholds)
    if due:
        state, since = "due", due[0]
        reasons.insert(0, due[1])
    held = _held(facts, day, thresholds)
    if held:
        state, since = "held", held[0]
        reasons.insert(0, held[1])
    unique = {reason.code: reason for reason in reversed(reasons)}
    return state, since, tuple(reason for reason in reasons if unique.pop(reason.code, None))


def _held(facts: Facts, day: date, thresholds: Thresholds) -> tuple[date | None, Reason] | None:
    """What says wait, and what lifts it."""
    alarms = alarms_open(facts, day, thresholds)
    if alarms:
        told = [sentence("skin-open", on=alarms[-1].date), *skin_waits(facts, alarms, day, thresholds)]
        return heard_on(alarms[0]), reason(SKIN_WORDS, "skin-open", *told)
    if danger := danger_unseen(facts, day, thresholds):
        return danger
    gain = _gain_that_holds(facts, day, thresholds)
    if gain:
        return gain.since, reason(WORDS, "heart-weight-gain", *_gain_said(gain, thresholds))
    socket = facts.socket_on(day)
    if socket and socket.weight_limit_kg:
        known = weights(facts, date.min, day)  # a new socket makes nobody lighter
        if known and known[-1][1] > socket.weight_limit_kg:
            told = [sentence("weight-over-limit", kg=known[-1][1], limit=socket.weight_limit_kg)]
            return known[-1][0], reason(WORDS, "weight-over-limit", *told)
    if "pregnancy" in facts.history.limb.tags:
        return None, reason(WORDS, "pregnancy")  # the profile does not say since when
    return None


def _gain_said(gain: Gain, thresholds: Thresholds) -> list[Sentence]:
    known: dict[str, Value] = {"kg": gain.kg, "first": gain.before[0], "before": gain.before[1]}
    known |= {"last": gain.after[0], "after": gain.after[1]}
    if gain.span:
        went_up = sentence("heart-weight-gain.days", span=gain.span, **known)
    else:
        went_up = sentence("heart-weight-gain.within-a-day", **known)
    until = gain.after[0] + timedelta(days=thresholds.context_days + 1)
    return [went_up, sentence("heart-weight-gain.waits", back=gain.back_kg, until=until)]


def _gain_that_holds(facts: Facts, day: date, thresholds: Thresholds) -> Gain | None:
    """A fast gain that nothing ended. Four weeks alone end it only if no phone spoke of it, or the clinic looked."""
    gain = heart_gain(facts, day, thresholds, however_long=True)
    if gain is None or (day - gain.after[0]).days <= thresholds.context_days:
        return gain
    spoken = facts.dangers.last_of("heart-team", day, thresholds.redness_minutes)
    return gain if spoken and danger_look(facts, *spoken, day) is None else None


def _context(facts: Facts, day: date, thresholds: Thresholds) -> tuple[date, Reason] | None:
    """What makes a quiet trend doubtful for a while: a new medicine, or weight that moved."""
    first = day - timedelta(days=thresholds.context_days)
    medicine = [
        each for each in facts.between(first, day) if any("new_medicine" in c.tags for c in facts.by_date[each])
    ]
    if medicine:
        until = medicine[-1] + timedelta(days=thresholds.context_days + 1)
        told = sentence("context-new_medicine", on=medicine[-1], until=until)
        return medicine[0], reason(WORDS, "context-new_medicine", told)
    known = alike(facts, weights(facts, first, day))
    if known and abs(known[-1][1] - known[0][1]) >= thresholds.weight_moved_kg:
        limit = thresholds.weight_moved_kg
        told = sentence("weight-moved", before=known[0][1], after=known[-1][1], limit=limit)
        return known[-1][0], reason(WORDS, "weight-moved", told)
    return None


def _due(facts: Facts, day: date, signals: Sequence[Signal], thresholds: Thresholds) -> tuple[date, Reason] | None:
    """The socket no longer serves, whatever the trend."""
    for signal in signals:
        if signal.kind == "outgrown":
            return signal.since, Reason("outgrown", signal.because, signal.sentences)
        if signal.kind == "stack-limit" and signal.level == "call":
            last = facts.last_on(day) or day
            if stack_over(facts.by_date[last], thresholds)[0] >= thresholds.stack_due_ply:
                return signal.since, Reason("stack-over-limit", signal.because, signal.sentences)
    return None


def _volume_state(facts: Facts, view: VolumeView, day: date, thresholds: Thresholds) -> tuple[str, date | None, Reason]:
    coming, margin = view.coming_28d_mm, thresholds.steady_margin_mm
    start = min([*facts.dates[:1], *(socket.fitted_on for socket in facts.history.sockets)], default=None)
    if not view.enough or coming is None:
        logged = facts.between(date.min, day)
        span = (logged[-1] - logged[0]).days if logged else 0
        known = sentence("too-few-days.one-day", logged=len(logged))
        if len(logged) > 1:
            known = sentence("too-few-days", logged=len(logged), span=span)
        needed = sentence("too-few-days.needed", count=CONSTANTS.enough_days, span=CONSTANTS.enough_span)
        told = [known, needed, sentence("too-few-days.until-then")]
        return "gathering", start if start and start <= day else None, reason(WORDS, "too-few-days", *told)
    last, quiet = facts.last_on(day), silent_for(facts, day)
    if last is not None and quiet is not None:
        silent = reason(WORDS, "no-recent-days", sentence("no-recent-days", quiet=quiet, on=last))
        return "gathering", last + timedelta(days=1), silent
    expected: dict[str, Value] = {**mm_said(coming), "margin": margin}
    by = ""
    if last is not None and (old := (day - last).days) >= OLD_DAYS:
        by, expected = "-old-log", {"old": old, "on": last, **expected}
    child = facts.is_child(day)

    def why(code: str, word: str, *more: Sentence) -> Reason:
        return reason(WORDS, code, sentence(f"coming.{word}{by}", **expected), *more)

    if view.steady:
        word = "within" if child else "steady"
        return "steady", view.steady_since, why("coming-change-inside", word, *_for_how_long(view, margin))
    if view.settling and not view.alarms:
        word = "not-within" if child else "settling"
        return "settling", view.settling_since, why("coming-change-outside", word)
    if view.alarms:
        return "changing", view.alarms[-1].since, why("sudden-change", "sudden")
    code = "coming-change-wide" if coming.low < margin and coming.high > -margin else "coming-change-outside"
    return "changing", view.unsettled_since, why(code, "unsteady")


def _for_how_long(view: VolumeView, margin: float) -> list[Sentence]:
    days_on = view.steady_for_days
    if days_on is None:
        return []
    if days_on >= 365:
        return [sentence("coming.stays-a-year", margin=margin)]
    return [sentence("coming.stays", margin=margin, length=days_on)]


def _cautions(facts: Facts, view: VolumeView, day: date, thresholds: Thresholds) -> list[Reason]:
    """What a prosthetist would want to weigh beside the state. None of these changes it."""
    limb, found = facts.history.limb, list[Reason]()
    weeks = (day - limb.amputated_on).days / 7 if limb.amputated_on else None

    def say(code: str, as_said: str | None = None, **values: Value) -> None:
        found.append(reason(WORDS, code, sentence(as_said or code, **values)))

    first = all(one.purpose != "definitive" for one in facts.history.sockets if one.fitted_on <= day)
    if weeks is not None and first and weeks < thresholds.first_definitive_weeks:
        say("early-after-amputation", weeks=round(weeks), until=thresholds.first_definitive_weeks)
    week = len(facts.between(day - timedelta(days=6), day))
    if week < ENOUGH_OF_SEVEN:
        say("few-recent-days", count=week, enough=ENOUGH_OF_SEVEN)
    month = facts.checkins(facts.between(day - timedelta(days=thresholds.context_days), day))
    for tag in ("new_medicine", "illness"):
        tagged = [checkin.date for checkin in month if tag in checkin.tags]
        if tagged:
            say(f"context-{tag}", "context.noted", tag=(tag,), on=tagged[-1])
    red = [one.date for one in month if any(s.finding == "redness" and s.redness_minutes is None for s in one.skin)]
    if red and (day - red[-1]).days < ALARM_SHOWN_DAYS:
        say("redness-minutes-unknown", on=red[-1])
    found += baseline_lacks(facts, day)
    if "unknown-make" in {one.code for one in lacks(facts, day)}:
        say("unknown-make", unknown=UNKNOWN_MAKE_SD, usual=SOCK_SCALE_SD)
    filled = [checkin for checkin in month if checkin.prefilled]
    if month and len(filled) > len(month) / 2:
        say("copied-answers", count=len(filled), all=len(month))
    taped = max((one for one in facts.history.measurements if one.on <= day), key=lambda one: one.on, default=None)
    if taped and taped.minutes_since_doffing is not None and swollen_share(taped.minutes_since_doffing) < SWOLLEN:
        say("measured-early", on=taped.on, minutes=taped.minutes_since_doffing)
    if against := tape_against(view):
        found.append(reason(WORDS, TAPE_AGAINST, against))
    state, shape = shape_said(limb.shape, facts.history.measurements, day)
    if state != "ok":
        found.append(reason(SHAPE_WORDS, "shape-missing" if state == "unknown" else "shape-bulbous", *shape))
    return found


def tape_against(view: VolumeView) -> Sentence | None:
    """The newest tape that says of the limb what its log does not, by more than tapes differ; None where all agree."""
    for tape in reversed(view.tapes):
        one = (tape.since, tape.change_pct, tape.logged_pct, tape.limit_pct)
        # Small steps add up: beside the one before, the fitting's or the first.
        all_ = (tape.total_since, tape.total_pct, tape.total_logged_pct, tape.total_limit_pct)
        for since, taped, logged, limit in (one, all_):
            if since is None or taped is None or logged is None or abs(taped) <= limit or abs(taped - logged) <= limit:
                continue
            known: dict[str, Value] = {"taped": taped, "logged": logged + 0.0, "limit": limit}
            return sentence(TAPE_AGAINST, on=tape.on, since=since, **known)
    return None
