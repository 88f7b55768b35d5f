"""A limb's log by calendar date, made once and asked for any day; what every signal and the readiness read."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from statistics import fmean

from plytide.engine.dangers import Dangers, heard_on
from plytide.engine.day_words import days as days
from plytide.engine.day_words import full as full
from plytide.engine.day_words import short as short
from plytide.engine.safety import ALARM_FINDINGS, HEART_BACK_KG
from plytide.engine.thresholds import Thresholds
from plytide.model import CheckIn, Estimate, LimbHistory, Socket, Value, is_child, reading_tags

ALARM_SHOWN_DAYS = 14
OPEN_SKIN_SIGNS = {"wound_edge_opening", "rash_spreads_or_blisters", "sock_stuck", "fast_spreading_redness"}
MOST_EVIDENCE = 20


def mm_said(estimate: Estimate) -> dict[str, Value]:
    """What a sentence fills in of millimetres with their interval, as `{mm:.1f} mm [{low:.1f} to {high:.1f}]`."""
    # Adding nought takes the minus from a rounded nought.
    return {"mm": nought(estimate.value), "low": nought(estimate.low), "high": nought(estimate.high)}


def nought(mm: float) -> float:
    return round(mm, 1) + 0.0


@dataclass(frozen=True, slots=True)
class Daily:
    """A daily mean of something said, and its running sums, so that any window's mean costs two look-ups."""

    dates: tuple[date, ...]
    sums: tuple[float, ...]  # one longer than dates: the sum before each

    @classmethod
    def of(cls, by_date: Mapping[date, Sequence[CheckIn]], value: Callable[[CheckIn], float | None]) -> Daily:
        dates, sums = [], [0.0]
        for day in sorted(by_date):
            values = [known for checkin in by_date[day] if (known := value(checkin)) is not None]
            if values:
                dates.append(day)
                sums.append(sums[-1] + fmean(values))
        return cls(tuple(dates), tuple(sums))

    def mean(self, first: date, last: date) -> tuple[float, int]:
        """(mean of the daily means, days that have one) from `first` to `last`, both included."""
        low, high = bisect_left(self.dates, first), bisect_right(self.dates, last)
        return ((self.sums[high] - self.sums[low]) / (high - low), high - low) if high > low else (0.0, 0)


@dataclass(frozen=True, slots=True)
class Gain:
    """Weight that went up fast: from and to (day, kg, check-in id), and since when this episode goes on."""

    since: date
    before: tuple[date, float, str | None]
    after: tuple[date, float, str | None]

    @property
    def kg(self) -> float:
        return self.after[1] - self.before[1]

    @property
    def back_kg(self) -> float:
        """At this weight or less it is over."""
        return self.before[1] + HEART_BACK_KG

    @property
    def span(self) -> int:
        """The days it took; 0 within one."""
        return (self.after[0] - self.before[0]).days


@dataclass(frozen=True, slots=True)
class Facts:
    """A limb's log by calendar date, made once and asked for any day. Only standing check-ins."""

    history: LimbHistory
    dates: tuple[date, ...]  # days with a check-in, oldest first
    by_date: dict[date, tuple[CheckIn, ...]]
    comfort: Daily
    hours: Daily
    pain: Daily
    alarms: tuple[CheckIn, ...]  # those with a finding that stops the wear, oldest first
    weights: tuple[tuple[date, float, str | None], ...]  # day, kg, check-in id or None for the clinic's own
    dangers: Dangers  # what the fixed rules found
    sessions: tuple[date, ...]  # days tagged as dialysis days, oldest first
    starts: dict[tuple[str, Thresholds], dict[date, date | None]] = field(default_factory=dict, compare=False)
    gains: dict[int, list[Gain | None]] = field(default_factory=dict, compare=False)

    @classmethod
    def of(cls, history: LimbHistory) -> Facts:
        found: dict[date, list[CheckIn]] = {}
        for checkin in history.checkins:
            found.setdefault(checkin.date, []).append(checkin)
        dates = tuple(sorted(found))
        by_date = {day: tuple(found[day]) for day in dates}
        ordered = [checkin for day in dates for checkin in by_date[day]]
        lost = {one.checkin.id: one.faults for one in history.unkept}
        entries = [*ordered, *(one.checkin for one in history.unkept)]
        return cls(
            history,
            dates,
            by_date,
            comfort=Daily.of(by_date, lambda checkin: checkin.comfort),
            hours=Daily.of(by_date, lambda checkin: checkin.hours_worn),
            pain=Daily.of(by_date, lambda checkin: checkin.pain),
            alarms=tuple(sorted((one for one in entries if _skin_alarm(one)), key=heard_on)),
            weights=_weights(ordered, history),
            dangers=Dangers(history.limb, entries, lost, weighed_elsewhere(history), dict(history.named)),
            sessions=tuple(day for day in dates if any("dialysis" in one.tags for one in by_date[day])),
        )

    def run_start(self, rule: str, thresholds: Thresholds, day: date, holds: Callable[[date], bool]) -> date:
        """The first logged day of the unbroken run of logged days, up to `day`, for which `holds` was true.

        What was found is kept, so that many dates of one log cost little more than one.
        """
        known = self.starts.setdefault((rule, thresholds), {})
        at = bisect_right(self.dates, day) - 1
        walked: list[date] = []
        start: date | None = None
        while at >= 0:
            each = self.dates[at]
            if each in known:
                start = known[each]
                break
            if not holds(each):
                known[each] = None
                break
            walked.append(each)
            at -= 1
        for each in reversed(walked):
            start = start or each
            known[each] = start
        return start or day

    def episode(
        self,
        rule: str,
        thresholds: Thresholds,
        day: date,
        found: Callable[[date], list[CheckIn]],
    ) -> date:
        """The first day of what `found` shows for `day`, followed back while `found` showed something.

        `found` looks over a window up to a day and must find nothing there when its rule would not speak.
        """
        last = self.last_on(day) or day
        start = self.run_start(rule, thresholds, last, lambda each: bool(found(each)))
        return min((checkin.date for checkin in found(start)), default=day)

    def window(self, day: date, length: int) -> list[CheckIn]:
        """Check-ins of the `length` days up to `day`."""
        return self.checkins(self.between(day - timedelta(days=length - 1), day))

    def between(self, first: date, last: date) -> list[date]:
        """Days with a check-in from `first` to `last`, both included."""
        return list(self.dates[bisect_left(self.dates, first) : bisect_right(self.dates, last)])

    def checkins(self, days_of: Iterable[date]) -> list[CheckIn]:
        return [checkin for day in days_of for checkin in self.by_date[day]]

    def last_on(self, day: date) -> date | None:
        """The latest day with a check-in up to `day`."""
        at = bisect_right(self.dates, day)
        return self.dates[at - 1] if at else None

    def socket_on(self, day: date) -> Socket | None:
        worn = [
            one
            for one in self.history.sockets
            if one.fitted_on <= day and (one.retired_on is None or one.retired_on > day)
        ]
        return max(worn, key=lambda one: (one.fitted_on, one.id), default=None)

    def is_child(self, day: date) -> bool:
        return is_child(self.history.limb.born_on, day)

    def reading_tags(self, day: date) -> tuple[str, ...]:
        """What must be known beside every figure of this limb."""
        return reading_tags(self.history.limb.tags, self.history.limb.born_on, day)


def evidence(checkins: Iterable[CheckIn]) -> tuple[str, ...]:
    """The newest ids, oldest first."""
    return tuple(checkin.id for checkin in checkins)[-MOST_EVIDENCE:]


def evidence_of_run(facts: Facts, first: date, last: date) -> tuple[str, ...]:
    """The newest ids from `first` to `last`, oldest first."""
    return evidence(facts.checkins(facts.between(first, last)[-MOST_EVIDENCE:]))


def stack_over(checkins: Sequence[CheckIn], thresholds: Thresholds) -> tuple[int, int]:
    """(highest nominal ply, most thick socks) of a day's stacks. Nominal ply is the trade's own count."""
    nominal = max((sum(sock.ply for sock in one.stack) for one in checkins), default=0)
    thick = max((sum(sock.ply >= thresholds.thick_ply for sock in one.stack) for one in checkins), default=0)
    return nominal, thick


def _weights(ordered: Iterable[CheckIn], history: LimbHistory) -> tuple[tuple[date, float, str | None], ...]:
    own = [(checkin.date, checkin.weight_kg, checkin.id) for checkin in ordered if checkin.weight_kg is not None]
    clinics = [(one.on, one.weight_kg, None) for one in history.measurements if one.weight_kg is not None]
    # Every socket of a person carries the same body, whichever limb the weight was written down with.
    elsewhere = [(day, kg, None) for day, kg in history.weights_elsewhere]
    return tuple(sorted([*own, *clinics, *elsewhere], key=lambda row: row[0]))


def weighed_elsewhere(history: LimbHistory) -> list[CheckIn]:
    """The weights of the person's other limbs' logs, as entries that say nothing else."""
    return [CheckIn("", history.limb.id, day, (), 10, weight_kg=kg) for day, kg in history.weights_elsewhere]


def _skin_alarm(checkin: CheckIn) -> bool:
    """Whether something was said of skin that is open or changing: it stops the wear and holds a recast."""
    return any(found.finding in ALARM_FINDINGS for found in checkin.skin) or bool(OPEN_SKIN_SIGNS & set(checkin.signs))
