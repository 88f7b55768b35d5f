"""The clock a diagnostic socket starts: when the definitive one is planned, what moves it, when a clinic hears of it.

Common practice: a new limb changes so much that its first socket is worn as a diagnostic one, with socks and pads,
and made again as the definitive one two to three weeks later. The weeks stand in `thresholds`. A preparatory socket
is worn for months and starts no clock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from plytide.engine.sentences import in_english, sentence
from plytide.engine.thresholds import Thresholds
from plytide.model import Decision, LimbHistory, Sentence, Socket, Value

NEAR_DAYS = 7  # a row on the list this long before the first planned day: judgement
TWO_STEP = "diagnostic-then-definitive"

WORDS = {
    "remake.decided": "The next socket is planned for {planned:span} by the decision of {on:day}.",
    "remake.decided-missed": "The next socket was planned for {planned:span} by the decision of {on:day}.",
    "remake.not-entered": (
        "The definitive socket is planned for {planned:span}, {least} to {most} days after a diagnostic one "
        "(common practice); a diagnostic one was to be made on {started:day} and is not entered."
    ),
    "remake.not-entered-missed": (
        "The definitive socket was planned by {last:day}, {least} to {most} days after a diagnostic one "
        "(common practice); a diagnostic one was to be made on {started:day} and is not entered."
    ),
    "remake.missed": (
        "The definitive socket was planned by {last:day}: the diagnostic one of {started:day} has been worn for "
        "{worn} days."
    ),
    "remake.planned": (
        "The definitive socket is planned for {planned:span}, {least} to {most} days after the diagnostic one of "
        "{started:day} (common practice)."
    ),
}


@dataclass(frozen=True, slots=True)
class Clock:
    """`first` to `last`: the days the definitive socket is planned for. One day where a decision named it."""

    started_on: date
    first: date
    last: date
    fitted: bool  # False: a diagnostic socket is planned and none is entered yet
    moved_by: Decision | None = None

    def missed(self, day: date) -> bool:
        return day > self.last

    def near(self, day: date) -> bool:
        return self.first - timedelta(days=NEAR_DAYS) <= day <= self.last

    def sentences(self, day: date) -> list[Sentence]:
        """What is planned and why then."""
        late = "-missed" if self.missed(day) else ""
        span = (self.first.isoformat(), self.last.isoformat())
        if self.moved_by:
            return [sentence(f"remake.decided{late}", planned=span, on=self.moved_by.on)]
        least, most = ((each - self.started_on).days for each in (self.first, self.last))
        known: dict[str, Value] = {"planned": span, "last": self.last, "started": self.started_on}
        if self.fitted and late:
            return [sentence("remake.missed", **known, worn=(day - self.started_on).days)]
        code = "remake.planned" if self.fitted else f"remake.not-entered{late}"
        return [sentence(code, **known, least=least, most=most)]

    def words(self, day: date) -> str:
        """The same in English, for a page."""
        return in_english(WORDS, self.sentences(day), "remake")


def worn_on(sockets: Sequence[Socket], day: date) -> Socket | None:
    """The newest socket fitted by `day` and not retired by then."""
    worn = [one for one in sockets if one.fitted_on <= day and (one.retired_on is None or one.retired_on > day)]
    return max(worn, key=lambda one: (one.fitted_on, one.id), default=None)


def clock_of(history: LimbHistory, day: date, thresholds: Thresholds) -> Clock | None:
    """The clock that runs on `day`: from the diagnostic socket worn, or from the decision to make one."""
    worn = worn_on(history.sockets, day)
    known = [one for one in history.decisions if one.on <= day]
    if worn is not None and worn.purpose == "diagnostic":
        started, fitted = worn.fitted_on, True
    elif known and known[-1].choice == TWO_STEP and not _followed(history.sockets, known[-1], day):
        started, fitted = known[-1].planned_on or known[-1].on, False
    else:
        return None
    # A wait without a date stops no clock: nobody would be reminded.
    moved = next((one for one in reversed(known) if one.on >= started and (one.planned_on or started) > started), None)
    if moved and moved.planned_on:
        return Clock(started, moved.planned_on, moved.planned_on, fitted, moved)
    first = started + timedelta(days=thresholds.remake_from_days)
    last = started + timedelta(days=max(thresholds.remake_by_days, thresholds.remake_from_days))
    return Clock(started, first, last, fitted)


def _followed(sockets: Sequence[Socket], decision: Decision, day: date) -> bool:
    """A socket was fitted since the decision."""
    return any(decision.on <= one.fitted_on <= day for one in sockets)
