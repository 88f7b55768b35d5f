"""How a socket was made, in a few lines: for the plan, the payer's page and a letter.

Pure: a making's state in, words out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from textwrap import wrap
from typing import Any

from plytide.engine.facts import full
from plytide.engine.staff_words import MADE, SUSPENSION, word_of

MOST_NAMED = 4
ON_PAPER = 200  # characters a line of a printed page holds for sure


def parts(state: Mapping[str, Any]) -> tuple[str, ...]:
    """One making in short pieces: what, when, by whom; what stood against it and why it went on; what stayed open."""
    purpose = state["plan"].get("purpose") or ""
    held = state["plan"].get("suspension")
    what = ", ".join(part for part in (word_of(MADE, state["made"]), held and word_of(SUSPENSION, held)) if part)
    who = (state["finished"] or {}).get("by") or state["begun_by"]
    day = full(date.fromisoformat(state["begun_on"]))
    done = sum(one["state"] != "open" for one in state["steps"])
    steps = f"{done} of {len(state['steps'])} steps of the clinic’s list answered"
    found = [f"{day}: {purpose} socket, {what}, by {who}; {steps}"]
    for one in state["despite"]:
        found.append(f"stood against it: {_in_one(one['against'])}")
        found.append(f"gone on by {one['by']} because “{one['reason']}”")
    finished = state["finished"]
    if finished is None:
        return (*found, "not finished")
    left = finished["left_open"]
    if left:
        more = f" and {len(left) - MOST_NAMED} more" if len(left) > MOST_NAMED else ""
        found.append(f"left open: {', '.join(left[:MOST_NAMED])}{more}")
    late = sum(bool(one.get("why")) for one in state["steps"])
    if late:
        found.append(f"{late} put right later")
    return tuple(found)


def line(state: Mapping[str, Any]) -> str:
    """The same in one sentence."""
    return f"{'; '.join(parts(state))}."


def _in_one(against: Sequence[Mapping[str, str]]) -> str:
    return " ".join(one["text"] for one in against).rstrip(".").replace(". ", ", ")


def lines(states: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """Newest first, without those taken out as a mistake."""
    return tuple(line(state) for state in states if not state["voided"])


def payer_lines(states: Sequence[Mapping[str, Any]], most: int) -> list[str]:
    """As `lines`, a piece a line, so that none is cut short on paper."""
    counted = [state for state in states if not state["voided"]][:most]
    sentences = [f"{part[:1].upper()}{part[1:]}." for state in counted for part in parts(state)]
    found = [piece for sentence in sentences for piece in wrap(sentence, ON_PAPER)]
    return [f"{found[0]} Entered by the clinic.", *found[1:]] if found else []
