"""Weight: gained fast with heart failure, much between dialysis sessions, near the socket's limit, or moved."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from plytide.engine.facts import MOST_EVIDENCE, Facts
from plytide.engine.sentences import sentence, signal
from plytide.engine.signal_kind import Kind
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.engine.weights import after_session, alike, heart_gain, weights
from plytide.model import Sentence, Signal

# Between two sessions up to 5.7 % of the weight after dialysis may need no tighter control of fluid (Semin Dial
# 2006;19(5):429-33); usual is 4.2 ± 1.8 % in men, 3.9 ± 1.9 % in women (309 people, "Relation between interdialytic
# weight gain, body weight and nutrition in hemodialysis patients"). As the limit of a call: judgement.
BETWEEN_SESSIONS_SHARE = 0.057
BETWEEN_SHOWN_DAYS = 7  # judgement: a session or more comes within it

# What a signal asks of the visit: trade practice; judgement.
KINDS = (
    Kind(
        "weight",
        label="weight",
        ask="Weight lately, and why?",
        look="The limit entered for the socket.",
        payer=("wear", 1),
    ),
)

WORDS = {
    "weight.heart": (
        "Weight up {kg:.1f} kg in {span:days} ({before:g} kg on {first:day} to {after:g} kg on {last:day}), "
        "with heart failure: a matter for their heart team."
    ),
    "weight.heart-within-a-day": (
        "Weight up {kg:.1f} kg within a day ({before:g} kg on {first:day} to {after:g} kg on {last:day}), "
        "with heart failure: a matter for their heart team."
    ),
    "weight.sessions-not-logged": "Dialysis days are not logged, so it may be what is gained between sessions.",
    "weight.like-days": "Both were weighed as long after a dialysis session.",
    "weight.between-sessions": (
        "{kg:.1f} kg gained in the {span:days} after the dialysis session of {session:day}, by {on:day}: "
        "{share:.1f} % of {base:g} kg. Usual is about 4 %. A matter for their kidney team."
    ),
    "weight.over": "{kg:g} kg on {on:day}, over the {limit:g} kg entered for this socket.",
    "weight.near": "{kg:g} kg on {on:day}, near the {limit:g} kg entered for this socket.",
    "weight.up": "Weight up {kg:.1f} kg since {on:day}: {before:g} to {after:g} kg.",
    "weight.down": "Weight down {kg:.1f} kg since {on:day}: {before:g} to {after:g} kg.",
}


def rule(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    """A fast gain with heart failure, much gained between sessions, near the limit the clinic entered, or moved since
    the fitting. Never a word on a component. All that is true is said, in that order."""
    said_of = list(_weight_matters(facts, day, thresholds))
    if not said_of:
        return []
    loudest = "call" if any(level == "call" for level, *_ in said_of) else "note"
    told = [one for one in said_of if one[0] == loudest]
    ids = tuple(dict.fromkeys(id_ for *_, mine in told for id_ in mine))
    return [
        signal(
            WORDS,
            "weight",
            loudest,
            min(one[1] for one in told),
            [each for one in told for each in one[2]],
            ids[-MOST_EVIDENCE:],
        )
    ]


def _weight_matters(
    facts: Facts, day: date, thresholds: Thresholds
) -> Iterator[tuple[str, date, list[Sentence], tuple[str, ...]]]:
    """(level, since, what is said, evidence)"""
    gain = heart_gain(facts, day, thresholds)
    told = {
        id_
        for one in facts.dangers.on(day, thresholds.redness_minutes)
        if one.rule == "heart-team"
        for id_ in one.evidence
    }
    if gain and gain.after[2] not in told:  # what the phone said of it leads
        (first, before, _), (last, after, _) = gain.before, gain.after
        span = (last - first).days
        code = "weight.heart" if span else "weight.heart-within-a-day"
        sentences = [sentence(code, kg=gain.kg, span=span, before=before, first=first, after=after, last=last)]
        if "dialysis" in facts.history.limb.tags:
            logged = after_session(facts, gain.after) is not None
            sentences.append(sentence("weight.like-days" if logged else "weight.sessions-not-logged"))
        yield "call", gain.since, sentences, tuple(row[2] for row in (gain.before, gain.after) if row[2])
    between = between_sessions(facts, day)
    if between:
        on, gained, base, session, gone = between
        share = gained / base * 100
        told_of = sentence(
            "weight.between-sessions", kg=gained, span=gone, session=session, on=on, share=share, base=base
        )
        ids = tuple(row[2] for row in weights(facts, session, on) if row[2])
        yield "call", on, [told_of], ids
    socket = facts.socket_on(day)
    if socket is None:
        return
    # The limit is the socket's, the weight the person's: what was weighed before the fitting counts.
    ever = weights(facts, date.min, day)
    limit = socket.weight_limit_kg
    if limit and ever:
        last_day, last_kg, _ = ever[-1]
        near = thresholds.weight_share_of_limit * limit
        if last_kg > limit or (last_kg >= near and (day - last_day).days <= 28):
            since = last_day
            for each, kg, _ in reversed(ever):
                if kg < near:
                    break
                since = each
            since = max(since, socket.fitted_on)
            code = "weight.over" if last_kg > limit else "weight.near"
            limits = [sentence(code, kg=last_kg, on=last_day, limit=limit)]
            yield "call", since, limits, tuple(row[2] for row in ever if row[0] >= min(since, last_day) and row[2])
    known = alike(facts, weights(facts, socket.fitted_on, day))
    if not known or (day - known[-1][0]).days > 28 or gain:
        return
    last_day, last_kg, _ = known[-1]
    first_day, first_kg, _ = known[0]
    moved = last_kg - first_kg
    if abs(moved) >= thresholds.weight_moved_kg:
        since = last_day
        for each, kg, _ in reversed(known):
            if abs(kg - first_kg) < thresholds.weight_moved_kg:
                break
            since = each
        code = "weight.up" if moved > 0 else "weight.down"
        change = [sentence(code, kg=abs(moved), on=first_day, before=first_kg, after=last_kg)]
        yield "note", since, change, tuple(row[2] for row in (known[0], known[-1]) if row[2])


def between_sessions(facts: Facts, day: date) -> tuple[date, float, float, date, int] | None:
    """(weighed on, kg gained, kg after the session, session, days) of the last days' largest gain over the limit."""
    found = None
    for row in weights(facts, day - timedelta(days=BETWEEN_SHOWN_DAYS - 1), day):
        gone = after_session(facts, row)
        if not gone:
            continue
        session = row[0] - timedelta(days=gone)
        dry = [
            (kind, one[1])
            for one in weights(facts, session, row[0])
            if (kind := after_session(facts, one)) is not None
            and kind < gone
            and one[0] - timedelta(days=kind) == session
        ]
        if not dry:
            continue
        base = min(dry)[1]  # the weight soonest after it
        gained = row[1] - base
        if gained > BETWEEN_SESSIONS_SHARE * base and (found is None or gained > found[1]):
            found = (row[0], gained, base, session, gone)
    return found
