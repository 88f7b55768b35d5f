"""The readiness of a limb for another socket, with its reasons. A signal for the prosthetist, never a verdict."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from plytide.engine.core.limb_volume import swollen_share
from plytide.engine.dangers import heard_on
from plytide.engine.day_words import in_ply
from plytide.engine.facts import ALARM_SHOWN_DAYS, Facts, Gain, days, mm_words, short, stack_over
from plytide.engine.growth import growth_of, growth_words
from plytide.engine.known import OLD_DAYS, SOCK_SCALE_SD, UNKNOWN_MAKE_SD, baseline_lacks, is_known, lacks, silent_for
from plytide.engine.open_skin import alarms_open, danger_look, danger_unseen, skin_waits
from plytide.engine.shape import shape_said
from plytide.engine.staff_words import DAY_TAG, word_of
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import CONSTANTS, VolumeView
from plytide.engine.weights import alike, heart_gain, weights
from plytide.model import Reason, Signal

SWOLLEN = 0.95  # of the swelling after doffing, before a tape says much: judgement, after Zachariah 2004
TAPE_AGAINST = "tape-against-log"
ENOUGH_OF_SEVEN = 5  # diary days: judgement, after 85 % completion (Ono 2019)


def readiness_of(
    facts: Facts, view: VolumeView, signals: Sequence[Signal], day: date, thresholds: Thresholds
) -> tuple[str, date | None, tuple[Reason, ...]]:
    """(state, since, reasons). A signal for the prosthetist, never a verdict.

    Health before all: held, then due, then what the volume says.
    """
    state, since, first = _volume_state(facts, view, day, thresholds)
    reasons = [first, *view.reasons, *_cautions(facts, view, day, thresholds)]
    if facts.is_child(day) and is_known(facts, view, day):
        growing = Reason("growing", growth_words(growth_of(facts, view, day)))
        if state in ("steady", "settling"):
            # A growing limb does neither: what counts is the room left, and by when it is used up.
            state, since, first = "changing", view.unsettled_since or since, growing
            reasons.insert(0, growing)
        else:
            reasons.insert(1, growing)
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
        waits = skin_waits(facts, alarms, day, thresholds)
        text = f"Open or changing skin was reported on {short(alarms[-1].date)}. {waits}"
        return heard_on(alarms[0]), Reason("skin-open", text)
    if danger := danger_unseen(facts, day, thresholds):
        return danger
    gain = _gain_that_holds(facts, day, thresholds)
    if gain:
        until = gain.after[0] + timedelta(days=thresholds.context_days + 1)
        text = (
            f"{gain.words}, with heart failure: what the limb takes up now may be fluid, and their heart team "
            f"comes first. Lifted when {gain.back_kg:g} kg or less is weighed, or from {short(until)} on once the clinic "
            "has acknowledged or closed what the phone said of it, if no further fast gain is weighed."
        )
        return gain.since, Reason("heart-weight-gain", text)
    socket = facts.socket_on(day)
    if socket and socket.weight_limit_kg:
        known = weights(facts, date.min, day)  # a new socket makes nobody lighter
        if known and known[-1][1] > socket.weight_limit_kg:
            text = (
                f"{known[-1][1]:g} kg is over the {socket.weight_limit_kg:g} kg entered for this socket. Lifted when "
                "the weight is under it, or the clinic enters another limit."
            )
            return known[-1][0], Reason("weight-over-limit", text)
    if "pregnancy" in facts.history.limb.tags:
        text = "Volume is expected to move through pregnancy and some time after. Lifted when the profile says so."
        return None, Reason("pregnancy", text)  # the profile does not say since when
    return None


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
        text = (
            f"A new medicine was noted on {short(medicine[-1])}; it can move volume, so a quiet trend may not last. "
            f"Lifted on {short(until)}, unless noted again."
        )
        return medicine[0], Reason("context-new_medicine", text)
    known = alike(facts, weights(facts, first, day))
    if known and abs(known[-1][1] - known[0][1]) >= thresholds.weight_moved_kg:
        text = (
            f"Weight moved from {known[0][1]:g} to {known[-1][1]:g} kg within four weeks. Lifted when it has moved "
            f"less than {thresholds.weight_moved_kg:g} kg in four weeks."
        )
        return known[-1][0], Reason("weight-moved", text)
    return None


def _due(facts: Facts, day: date, signals: Sequence[Signal], thresholds: Thresholds) -> tuple[date, Reason] | None:
    """The socket no longer serves, whatever the trend."""
    for signal in signals:
        if signal.kind == "outgrown":
            return signal.since, Reason("outgrown", signal.because)
        if signal.kind == "stack-limit" and signal.level == "call":
            last = facts.last_on(day) or day
            if stack_over(facts.by_date[last], thresholds)[0] >= thresholds.stack_due_ply:
                return signal.since, Reason("stack-over-limit", signal.because)
    return None


def _volume_state(facts: Facts, view: VolumeView, day: date, thresholds: Thresholds) -> tuple[str, date | None, Reason]:
    coming, margin = view.coming_28d_mm, thresholds.steady_margin_mm
    start = min([*facts.dates[:1], *(socket.fitted_on for socket in facts.history.sockets)], default=None)
    if not view.enough or coming is None:
        logged = facts.between(date.min, day)
        span = (logged[-1] - logged[0]).days if logged else 0
        known = f"Not known yet: check-ins on {days(len(logged))}"
        known += f", the last {days(span)} after the first." if len(logged) > 1 else "."
        count, span_needed = CONSTANTS.enough_days, CONSTANTS.enough_span
        needed = f"Needed are {count} days or more, the last at least {span_needed} days after the first."
        text = f"{known} {needed} Until then no change and no forecast is given."
        return "gathering", start if start and start <= day else None, Reason("too-few-days", text)
    last, quiet = facts.last_on(day), silent_for(facts, day)
    if last is not None and quiet is not None:
        text = (
            f"No check-in for {days(quiet)}, since {short(last)}: what the limb does now is not known, so no change "
            "and no forecast is given."
        )
        return "gathering", last + timedelta(days=1), Reason("no-recent-days", text)
    if last is not None and (old := (day - last).days) >= OLD_DAYS:
        inside = f"by a log that ends {days(old)} ago, {short(last)}, the 28 days from now are expected to bring"
    else:
        inside = "the coming 28 days are expected to bring"
    inside += f" {in_ply(coming.value)}, {mm_words(coming)} of sock; the margin is ±{margin:g} mm"
    if view.steady:
        word = "Within the margin for now" if facts.is_child(day) else "Steady"
        return (
            "steady",
            view.steady_since,
            Reason("coming-change-inside", f"{word}: {inside}.{_for_how_long(view, margin)}"),
        )
    if view.settling and not view.alarms:
        word = "Not within the margin yet" if facts.is_child(day) else "Still settling"
        return "settling", view.settling_since, Reason("coming-change-outside", f"{word}: {inside}.")
    if view.alarms:
        return "changing", view.alarms[-1].since, Reason("sudden-change", f"A sudden change was found: {inside}.")
    code = "coming-change-wide" if coming.low < margin and coming.high > -margin else "coming-change-outside"
    return "changing", view.unsettled_since, Reason(code, f"Not known to be steady: {inside}.")


def _for_how_long(view: VolumeView, margin: float) -> str:
    days_on = view.steady_for_days
    if days_on is None:
        return ""
    length = "a year" if days_on >= 365 else days(days_on)
    return f" By the log so far the change stays within ±{margin:g} mm for {length} or more, 9 times in 10."


def _cautions(facts: Facts, view: VolumeView, day: date, thresholds: Thresholds) -> list[Reason]:
    """What a prosthetist would want to weigh beside the state. None of these changes it."""
    limb, found = facts.history.limb, []
    weeks = (day - limb.amputated_on).days / 7 if limb.amputated_on else None
    first = all(one.purpose != "definitive" for one in facts.history.sockets if one.fitted_on <= day)
    if weeks is not None and first and weeks < thresholds.first_definitive_weeks:
        text = (
            f"{weeks:.0f} weeks since the amputation. Until about week {thresholds.first_definitive_weeks} the average "
            "limb still loses more than a thin sock in four weeks."
        )
        found.append(Reason("early-after-amputation", text))
    week = len(facts.between(day - timedelta(days=6), day))
    if week < ENOUGH_OF_SEVEN:
        text = f"Check-ins on {week} of the last 7 days; with {ENOUGH_OF_SEVEN} or more, changes show sooner."
        found.append(Reason("few-recent-days", text))
    month = facts.checkins(facts.between(day - timedelta(days=thresholds.context_days), day))
    for tag in ("new_medicine", "illness"):
        tagged = [checkin.date for checkin in month if tag in checkin.tags]
        if tagged:
            found.append(
                Reason(f"context-{tag}", f"{word_of(DAY_TAG, tag).capitalize()} noted on {short(tagged[-1])}.")
            )
    red = [one.date for one in month if any(s.finding == "redness" and s.redness_minutes is None for s in one.skin)]
    if red and (day - red[-1]).days < ALARM_SHOWN_DAYS:
        text = f"Redness on {short(red[-1])}: how long it stayed was not said, so whether it was too long is not known."
        found.append(Reason("redness-minutes-unknown", text))
    found += baseline_lacks(facts, day)
    if "unknown-make" in {one.code for one in lacks(facts, day)}:
        text = (
            f"Socks of unknown make are worn: a millimetre may be off by {UNKNOWN_MAKE_SD:.0%} either way, instead of "
            f"{SOCK_SCALE_SD:.0%}."
        )
        found.append(Reason("unknown-make", text))
    filled = [checkin for checkin in month if checkin.prefilled]
    if month and len(filled) > len(month) / 2:
        text = f"{len(filled)} of {len(month)} answers in four weeks were copied from the day before; they say less."
        found.append(Reason("copied-answers", text))
    taped = max((one for one in facts.history.measurements if one.on <= day), key=lambda one: one.on, default=None)
    if taped and taped.minutes_since_doffing is not None and swollen_share(taped.minutes_since_doffing) < SWOLLEN:
        text = (
            f"The tape measurement of {short(taped.on)} was taken {taped.minutes_since_doffing:g} minutes after the "
            "socket came off: the limb was still swelling. Ten minutes or more say more."
        )
        found.append(Reason("measured-early", text))
    if against := tape_against(view):
        found.append(Reason(TAPE_AGAINST, against))
    state, shape = shape_said(limb.shape, facts.history.measurements, day)
    if state != "ok":
        found.append(Reason("shape-missing" if state == "unknown" else "shape-bulbous", shape))
    return found


def tape_against(view: VolumeView) -> str | None:
    """The newest tape that says of the limb what its log does not, by more than tapes differ; None where all agree."""
    for tape in reversed(view.tapes):
        one = (tape.since, tape.change_pct, tape.logged_pct, tape.limit_pct)
        # Small steps add up: beside the one before, the fitting's or the first.
        all_ = (tape.total_since, tape.total_pct, tape.total_logged_pct, tape.total_limit_pct)
        for since, taped, logged, limit in (one, all_):
            if since is None or taped is None or logged is None or abs(taped) <= limit or abs(taped - logged) <= limit:
                continue
            return (
                f"The tape of {short(tape.on)} and the log do not agree: {taped:+.1f} % by the tape since "
                f"{short(since)}, {logged + 0.0:+.1f} % by the log. Tapes differ by up to {limit:.1f} %. "
                "Measure again, and look at the socks that are logged."
            ).replace("-", "−")
    return None
