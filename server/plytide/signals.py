"""Assessment and log → signals, each with its because and its evidence, and the readiness of a limb.

Each rule asks one question of one day and looks back only, so that a replay says what would have been said.
`since` is the first day of the unbroken run for which the answer was yes.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from statistics import fmean

from plytide.assessment import SETTINGS, VolumeView
from plytide.core.limb_volume import swollen_share
from plytide.core.score_change import pain_change
from plytide.core.thickness import stack_thickness
from plytide.model import CheckIn, Estimate, LimbHistory, Reason, Signal, Socket
from plytide.safety import ALARM_FINDINGS
from plytide.thresholds import Thresholds

ADULT_YEARS = 18
ALARM_SHOWN_DAYS = 14
RISKY_SKIN = {"diabetes", "vascular", "reduced_sensation"}
DISARTICULATIONS = {"ankle_disarticulation", "knee_disarticulation", "hip_disarticulation"}
BONY = {"bony_point", "stretched_skin"}
MOST_EVIDENCE = 20
HEART_GAIN_KG = 2.3  # in a week: 5 lb, heart-failure advice pages (common practice)
PASSING = {"hot_day", "dialysis", "illness", "long_standing", "travel"}
PASSING_DAYS = 3  # heat, salt and the like: judgement; no figure was found
QUIET_DAYS = 14  # without a word for so long, nothing is said about a trend: judgement
SWOLLEN = 0.95  # of the swelling after doffing, before a tape says much: judgement, after Zachariah 2004
ENOUGH_OF_SEVEN = 5  # diary days: judgement, after 85 % completion (Ono 2019)


def short(day: date) -> str:
    """3 June: the way a date is said in a sentence."""
    return f"{day.day} {day:%B}"


def days(count: int) -> str:
    return f"{count} day" if count == 1 else f"{count} days"


@dataclass(frozen=True, slots=True)
class Daily:
    """A daily mean of something said, and its running sums, so that any window's mean costs two look-ups."""

    dates: tuple[date, ...]
    sums: tuple[float, ...]  # one longer than dates: the sum before each

    @classmethod
    def of(cls, by_date: Mapping[date, Sequence[CheckIn]], value: Callable[[CheckIn], float | None]) -> Daily:
        dates, sums = [], [0.0]
        for day in sorted(by_date):
            said = [known for checkin in by_date[day] if (known := value(checkin)) is not None]
            if said:
                dates.append(day)
                sums.append(sums[-1] + fmean(said))
        return cls(tuple(dates), tuple(sums))

    def mean(self, first: date, last: date) -> tuple[float, int]:
        """(mean of the daily means, days that have one) from `first` to `last`, both included."""
        low, high = bisect_left(self.dates, first), bisect_right(self.dates, last)
        return ((self.sums[high] - self.sums[low]) / (high - low), high - low) if high > low else (0.0, 0)


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
    starts: dict[tuple[str, Thresholds], dict[date, date | None]] = field(default_factory=dict, compare=False)

    @classmethod
    def of(cls, history: LimbHistory) -> Facts:
        found: dict[date, list[CheckIn]] = {}
        for checkin in history.checkins:
            found.setdefault(checkin.date, []).append(checkin)
        dates = tuple(sorted(found))
        by_date = {day: tuple(found[day]) for day in dates}
        ordered = [checkin for day in dates for checkin in by_date[day]]
        return cls(
            history,
            dates,
            by_date,
            comfort=Daily.of(by_date, lambda checkin: checkin.comfort),
            hours=Daily.of(by_date, lambda checkin: checkin.hours_worn),
            pain=Daily.of(by_date, lambda checkin: checkin.pain),
            alarms=tuple(
                one for one in ordered if one.skin and any(each.finding in ALARM_FINDINGS for each in one.skin)
            ),
            weights=_weights(ordered, history),
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
        born = self.history.limb.born_on
        return born is not None and (day - born).days < ADULT_YEARS * 365.25


def evidence(checkins: Iterable[CheckIn]) -> tuple[str, ...]:
    """The newest ids, oldest first."""
    return tuple(checkin.id for checkin in checkins)[-MOST_EVIDENCE:]


def evidence_of_run(facts: Facts, first: date, last: date) -> tuple[str, ...]:
    """The newest ids from `first` to `last`, oldest first."""
    return evidence(facts.checkins(facts.between(first, last)[-MOST_EVIDENCE:]))


def _weights(ordered: Iterable[CheckIn], history: LimbHistory) -> tuple[tuple[date, float, str | None], ...]:
    own = [(checkin.date, checkin.weight_kg, checkin.id) for checkin in ordered if checkin.weight_kg is not None]
    clinics = [(one.on, one.weight_kg, None) for one in history.measurements if one.weight_kg is not None]
    return tuple(sorted([*own, *clinics], key=lambda row: row[0]))


# Skin


def skin(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> Signal | None:
    """Alarm findings are urgent until two later days were looked at and clear, at most for the healing time."""
    open_alarm = alarms_open(facts, day, thresholds)
    if open_alarm:
        last = open_alarm[-1]
        found = next(each for each in last.skin if each.finding in ALARM_FINDINGS)
        words = found.finding.replace("_", " ")
        because = f"{words.capitalize()} at {found.place} reported on {short(last.date)}."
        return Signal("skin", "urgent", open_alarm[0].date, because, evidence(open_alarm))
    limit = thresholds.redness_minutes

    def reddened(each: date) -> list[CheckIn]:
        return [
            checkin
            for checkin in facts.window(each, 3)
            if any((found.redness_minutes or 0) > limit for found in checkin.skin)
        ]

    red = reddened(day)
    if red:
        longest = max(found.redness_minutes or 0 for checkin in red for found in checkin.skin)
        because = f"Redness lasted {longest:g} minutes after taking the socket off; the limit is {limit:g}."
        since = facts.episode("redness", thresholds, day, reddened)
        return Signal("skin", "call", since, because, evidence(red))
    bony = _bony(facts, day)
    if bony:
        because = f"A bony point or stretched skin at the end was seen on {short(bony[-1].date)}: look for overgrowth."
        since = facts.episode("bony", thresholds, day, lambda each: _bony(facts, each))
        return Signal("skin", "call", since, because, evidence(bony))

    def lasting(each: date) -> list[CheckIn]:
        seen = [checkin for checkin in facts.window(each, 7) if checkin.skin]
        return seen if len({checkin.date for checkin in seen}) >= 3 else []  # judgement

    lesser = lasting(day)
    if lesser:
        seen_on = {checkin.date for checkin in lesser}
        since = facts.episode("skin", thresholds, day, lasting)
        names = sorted({found.finding.replace("_", " ") for checkin in lesser for found in checkin.skin})
        at_risk = bool(RISKY_SKIN & set(facts.history.limb.tags))
        because = f"Skin finding ({', '.join(names)}) on {days(len(seen_on))} of the last 7."
        if at_risk:
            because += " The profile names diabetes, vascular disease or reduced feeling."
        return Signal("skin", "call" if at_risk else "note", since, because, evidence(lesser))
    return None


def alarms_open(facts: Facts, day: date, thresholds: Thresholds) -> list[CheckIn]:
    """The check-ins of an alarm not yet known to be over."""
    alarms = facts.alarms[: bisect_right(facts.alarms, day, key=lambda one: one.date)]
    window = timedelta(days=thresholds.skin_closed_days)
    if not alarms or day - alarms[-1].date > window:
        return []
    clear = {
        each
        for each in facts.between(alarms[-1].date + timedelta(days=1), day)
        if any(c.skin_checked and not c.skin for c in facts.by_date[each])
    }
    if len(clear) >= 2:  # judgement
        return []
    first = len(alarms) - 1
    while first > 0 and alarms[first].date - alarms[first - 1].date <= window:
        first -= 1
    return list(alarms[first:])


def _bony(facts: Facts, day: date) -> list[CheckIn]:
    """A child's overgrowth signs; not after a disarticulation, where the bone was not cut (O'Neal 1996: 0 %)."""
    if not facts.is_child(day) or facts.history.limb.level in DISARTICULATIONS:
        return []
    recent = facts.checkins(facts.between(day - timedelta(days=14), day))
    return [checkin for checkin in recent if BONY & set(checkin.signs)]


# Stack


def stack_over(checkins: Sequence[CheckIn], thresholds: Thresholds) -> tuple[int, int]:
    """(highest nominal ply, most thick socks) of a day's stacks. Nominal ply is the trade's own count."""
    nominal = max((sum(sock.ply for sock in one.stack) for one in checkins), default=0)
    thick = max((sum(sock.ply >= thresholds.thick_ply for sock in one.stack) for one in checkins), default=0)
    return nominal, thick


def stack_limit(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> Signal | None:
    last = facts.last_on(day)
    if last is None or (day - last).days > ALARM_SHOWN_DAYS:
        return None

    def over(each: date) -> bool:
        nominal, thick = stack_over(facts.by_date[each], thresholds)
        return nominal >= thresholds.stack_call_ply or thick >= thresholds.thick_socks

    if not over(last):
        return None
    nominal, thick = stack_over(facts.by_date[last], thresholds)
    since = facts.run_start("stack-limit", thresholds, last, over)
    parts = []
    if nominal >= thresholds.stack_call_ply:
        limit = thresholds.stack_due_ply if nominal >= thresholds.stack_due_ply else thresholds.stack_call_ply
        parts.append(f"{nominal} ply by the labels (limit {limit})")
    if thick >= thresholds.thick_socks:
        parts.append(f"{thick} thick socks (limit {thresholds.thick_socks})")
    loud = nominal >= thresholds.stack_due_ply or thick >= thresholds.thick_socks
    because = f"The stack is {' and '.join(parts)} on {short(last)}."
    return Signal("stack-limit", "call" if loud else "note", since, because, evidence_of_run(facts, since, last))


# Comfort, wear, falls, weight


def _comfort_fell(facts: Facts, day: date, thresholds: Thresholds) -> tuple[float, float] | None:
    """(own baseline, this week's mean) when the week is lower by the limit. One score on one day is noise."""
    week, counted = facts.comfort.mean(day - timedelta(days=6), day)
    usual, known = facts.comfort.mean(day - timedelta(days=34), day - timedelta(days=7))
    if counted >= 3 and known >= 7 and usual - week >= thresholds.comfort_drop - 1e-9:
        return usual, week
    return None


def _comfort_low(facts: Facts, day: date, thresholds: Thresholds) -> list[date]:
    """Days of the week at or below the low mark, when there are two."""
    low = [
        each
        for each in facts.between(day - timedelta(days=6), day)
        if min(checkin.comfort for checkin in facts.by_date[each]) <= thresholds.comfort_low
    ]
    return low if len(low) >= 2 else []


def comfort_drop(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> Signal | None:
    fell, low = _comfort_fell(facts, day, thresholds), _comfort_low(facts, day, thresholds)
    if not fell and not low:
        return None
    if fell:
        because = f"Comfort averages {fell[1]:.1f} this week, {fell[0]:.1f} in the four weeks before (10 is best)."
    else:
        because = f"Comfort was {thresholds.comfort_low} or less on {days(len(low))} of the last 7 (10 is best)."

    hurts, counted = facts.pain.mean(day - timedelta(days=6), day)
    hurt, known = facts.pain.mean(day - timedelta(days=34), day - timedelta(days=7))
    if counted >= 3 and known >= 7 and pain_change(hurt, hurts).worse:
        because += f" Pain averages {hurts:.1f} this week, {hurt:.1f} before (0 is none)."

    def still(each: date) -> bool:
        return bool(_comfort_fell(facts, each, thresholds) or _comfort_low(facts, each, thresholds))

    last = facts.last_on(day) or day
    since = facts.run_start("comfort-drop", thresholds, last, still)
    since = min([since, *_comfort_low(facts, since, thresholds)])
    return Signal(
        "comfort-drop", "call", since, because, evidence(facts.checkins(facts.between(day - timedelta(days=6), day)))
    )


def _wear_fell(facts: Facts, day: date, thresholds: Thresholds) -> tuple[float, float] | None:
    week, counted = facts.hours.mean(day - timedelta(days=6), day)
    # A new socket is worn for an hour or two at first: what is usual begins with it.
    socket = facts.socket_on(day)
    first = max(day - timedelta(days=34), socket.fitted_on if socket else date.min)
    usual, known = facts.hours.mean(first, day - timedelta(days=7))
    if counted >= 3 and known >= 7 and usual > 0 and week <= usual * (1 - thresholds.wear_drop_share) + 1e-9:
        return usual, week
    return None


def wear_drop(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> Signal | None:
    fell = _wear_fell(facts, day, thresholds)
    if not fell:
        return None
    last = facts.last_on(day) or day
    since = facts.run_start("wear-drop", thresholds, last, lambda each: bool(_wear_fell(facts, each, thresholds)))
    because = f"Worn {fell[1]:.1f} hours a day this week, {fell[0]:.1f} in the four weeks before."
    return Signal(
        "wear-drop", "call", since, because, evidence(facts.checkins(facts.between(day - timedelta(days=6), day)))
    )


def fall(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> Signal | None:
    """A fall is told of for two weeks; several in 30 days ask for a call."""
    month = [c for c in facts.checkins(facts.between(day - timedelta(days=29), day)) if c.falls]
    if not month:
        return None
    per_day: dict[date, int] = {}
    for checkin in month:
        per_day[checkin.date] = max(per_day.get(checkin.date, 0), checkin.falls or 0)
    count, last = sum(per_day.values()), max(per_day)
    if count >= thresholds.falls_in_30_days:
        because = f"{count} falls in 30 days, the last on {short(last)}."
        since = facts.episode("fall", thresholds, day, lambda each: _repeated_falls(facts, each, thresholds))
        return Signal("fall", "call", since, because, evidence(month))
    if (day - last).days < ALARM_SHOWN_DAYS:
        return Signal("fall", "note", last, f"A fall on {short(last)}.", evidence(month))
    return None


def _repeated_falls(facts: Facts, day: date, thresholds: Thresholds) -> list[CheckIn]:
    """The check-ins that tell of a fall in the 30 days up to `day`, when there were several."""
    fell = [checkin for checkin in facts.window(day, 30) if checkin.falls]
    worst: dict[date, int] = {}
    for checkin in fell:
        worst[checkin.date] = max(worst.get(checkin.date, 0), checkin.falls or 0)
    return fell if sum(worst.values()) >= thresholds.falls_in_30_days else []


def weights(facts: Facts, first: date, last: date) -> tuple[tuple[date, float, str | None], ...]:
    """(day, kg, check-in id or None for the clinic's own) from `first` to `last`, oldest first."""
    low = bisect_left(facts.weights, first, key=lambda row: row[0])
    return facts.weights[low : bisect_right(facts.weights, last, key=lambda row: row[0])]


def heart_teams_matter(facts: Facts, day: date, kg: float) -> bool:
    """A sudden gain in heart failure: `safety` points to the wearer's own heart team, and the socket is not meant."""
    if "heart_failure" not in facts.history.limb.tags:
        return False
    before = [row[1] for row in weights(facts, day - timedelta(days=7), day)]
    return kg - min(before, default=kg) >= HEART_GAIN_KG


def weight(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> Signal | None:
    """Near the limit the clinic entered, or moved since the fitting. Never a word on a component."""
    socket = facts.socket_on(day)
    if socket is None:
        return None
    known = weights(facts, socket.fitted_on, day)
    if not known or (day - known[-1][0]).days > 28:
        return None
    last_day, last_kg, _ = known[-1]
    limit = socket.weight_limit_kg
    if limit and last_kg >= thresholds.weight_share_of_limit * limit:
        near = thresholds.weight_share_of_limit * limit
        since = last_day
        for each, kg, _ in reversed(known):
            if kg < near:
                break
            since = each
        word = "over" if last_kg > limit else "near"
        because = f"{last_kg:g} kg on {short(last_day)}, {word} the {limit:g} kg entered for this socket."
        ids = tuple(row[2] for row in known if row[0] >= since and row[2])
        return Signal("weight", "call", since, because, ids[-MOST_EVIDENCE:])
    first_day, first_kg, _ = known[0]
    moved = last_kg - first_kg
    if abs(moved) >= thresholds.weight_moved_kg and not heart_teams_matter(facts, last_day, last_kg):
        since = last_day
        for each, kg, _ in reversed(known):
            if abs(kg - first_kg) < thresholds.weight_moved_kg:
                break
            since = each
        because = (
            f"Weight {'up' if moved > 0 else 'down'} {abs(moved):.1f} kg since {short(first_day)}: "
            f"{first_kg:g} to {last_kg:g} kg."
        )
        ids = tuple(row[2] for row in (known[0], known[-1]) if row[2])
        return Signal("weight", "note", since, because, ids)
    return None


# Silence, growth, volume


def silent(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> Signal | None:
    """Days without a word, beyond the person's own usual gaps."""
    last = facts.last_on(day)
    if last is None:
        joined = facts.history.watched_since
        if joined is None or (day - joined).days < thresholds.silent_call_days:
            return None
        return Signal("silent", "note", joined, f"Nothing logged since the phone joined on {short(joined)}.")
    quiet = (day - last).days
    earlier = facts.between(last - timedelta(days=90), last)
    gaps = sorted((after - before).days for before, after in zip(earlier, earlier[1:], strict=False))
    usual = gaps[int(0.9 * (len(gaps) - 1))] if gaps else 1
    if quiet < max(thresholds.silent_days, usual + 2):
        return None
    loud = quiet >= max(thresholds.silent_call_days, 2 * usual)
    because = f"No check-in for {days(quiet)}; the last was on {short(last)}."
    return Signal("silent", "call" if loud else "note", last + timedelta(days=1), because)


def outgrown(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> Signal | None:
    """The limb no longer goes fully in, or a child's stack has fallen well below the stack at fitting."""

    def held_out(each: date) -> list[CheckIn]:
        seen = [checkin for checkin in facts.window(each, 7) if "cannot_get_fully_in" in checkin.signs]
        return seen if len({checkin.date for checkin in seen}) >= 2 else []

    stuck = held_out(day)
    if stuck:
        because = f"The limb did not go fully in on {days(len({c.date for c in stuck}))} of the last 7."
        since = facts.episode("held-out", thresholds, day, held_out)
        return Signal("outgrown", "call", since, because, evidence(stuck))
    socket = facts.socket_on(day)
    if socket is None or not facts.is_child(day):
        return None
    baseline = stack_thickness(socket.stack_at_fitting)[0]

    def filled(checkin: CheckIn) -> float:
        """Socks and the pads glued in by then: a pad takes the place of sock, and is no growth."""
        pads = (pad.thickness_mm for pad in facts.history.pads if pad.socket_id == socket.id and pad.on <= checkin.date)
        return stack_thickness(checkin.stack)[0] + sum(pads)

    def fallen(last: date) -> bool:
        """Both of the last two weeks' middle stacks, in this socket, lie a thin sock below the stack at fitting."""
        if last - timedelta(days=13) < socket.fitted_on:
            return False
        for first in (last - timedelta(days=6), last - timedelta(days=13)):
            worn = sorted(filled(c) for c in facts.checkins(facts.between(first, first + timedelta(days=6))))
            if len(worn) < 3 or worn[len(worn) // 2] > baseline - thresholds.outgrown_mm + 1e-9:
                return False
        return True

    def bare_and_tight(last: date) -> bool:
        """Nothing left to take off, and tight."""
        recent = facts.between(max(last - timedelta(days=13), socket.fitted_on), last)[-5:]
        worn = facts.checkins(recent)
        return (
            len(recent) == 5
            and all(stack_thickness(c.stack)[0] < 0.3 for c in worn)
            and (sum(c.fit == "tight" for c in worn) >= len(worn) / 2)
        )

    last = facts.last_on(day)
    if last is None or (day - last).days > ALARM_SHOWN_DAYS or not (fallen(last) or bare_and_tight(last)):
        return None
    since = facts.run_start(
        f"outgrown {socket.id}", thresholds, last, lambda each: fallen(each) or bare_and_tight(each)
    )
    now = stack_thickness(facts.by_date[last][-1].stack)[0]
    because = f"The sock stack has fallen to {now:.1f} mm; it was {baseline:.1f} mm at fitting."
    return Signal("outgrown", "call", since, because, evidence_of_run(facts, since, last))


def _may_pass(facts: Facts, since: date, day: date) -> bool:
    """The change is younger than what heat, dialysis or illness does to a limb, and one of them was noted."""
    if (day - since).days >= PASSING_DAYS:
        return False
    return any(PASSING & set(checkin.tags) for checkin in facts.checkins(facts.between(since, day)))


def volume(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    """Sudden changes beyond the trend, as found by the engine."""
    newest = {alarm.kind: alarm for alarm in sorted(view.alarms, key=lambda alarm: alarm.found_on)}
    found = []
    for kind, alarm in newest.items():
        if _may_pass(facts, alarm.since, day):
            continue
        size = abs(alarm.size_mm.value)
        word = "more" if kind == "volume-loss" else "less"
        because = (
            f"Since about {short(alarm.since)} the limb needs some {size:.1f} mm {word} of sock than its trend "
            f"explains (found {short(alarm.found_on)})."
        )
        around = facts.between(alarm.since - timedelta(days=1), alarm.since + timedelta(days=1))
        if any("new_socks" in checkin.tags for checkin in facts.checkins(around)):
            because += " New socks were noted at that time: they may be thicker or thinner than the old ones."
        found.append(Signal(kind, "call", alarm.since, because, alarm.evidence))
    return found


RULES = (skin, stack_limit, comfort_drop, wear_drop, fall, weight, silent, outgrown)


def signals_of(facts: Facts, view: VolumeView, day: date, thresholds: Thresholds) -> tuple[Signal, ...]:
    """All that is to be said of a limb on a day, most urgent first."""
    found = [signal for rule in RULES if (signal := rule(facts, day, view, thresholds)) is not None]
    found += volume(facts, day, view, thresholds)
    order = {"urgent": 0, "call": 1, "note": 2}
    return tuple(sorted(found, key=lambda signal: (order[signal.level], signal.since, signal.kind)))


# Readiness


def _held(facts: Facts, day: date, thresholds: Thresholds) -> tuple[date | None, Reason] | None:
    """What says wait, and what lifts it."""
    alarms = alarms_open(facts, day, thresholds)
    if alarms:
        until = alarms[-1].date + timedelta(days=thresholds.skin_closed_days)
        text = (
            f"Open or changing skin was reported on {short(alarms[-1].date)}. Lifted when the skin was looked at and "
            f"clear on two days, or has no new report by {short(until)}, and the clinic has seen it."
        )
        return alarms[0].date, Reason("skin-open", text)
    socket = facts.socket_on(day)
    if socket and socket.weight_limit_kg:
        known = weights(facts, socket.fitted_on, day)
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
    known = weights(facts, first, day)
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


def _mm(estimate: Estimate) -> str:
    # Adding nought takes the minus from a rounded nought.
    value, low, high = (round(mm, 1) + 0.0 for mm in (estimate.value, estimate.low, estimate.high))
    return f"{value:.1f} mm [{low:.1f} to {high:.1f}]".replace("-", "−")


def readiness_of(
    facts: Facts, view: VolumeView, signals: Sequence[Signal], day: date, thresholds: Thresholds
) -> tuple[str, date | None, tuple[Reason, ...]]:
    """(state, since, reasons). A signal for the prosthetist, never a verdict.

    Health before all: held, then due, then what the volume says.
    """
    state, since, first = _volume_state(facts, view, day, thresholds)
    reasons = [first, *view.reasons, *_cautions(facts, view, day, thresholds)]
    if state in ("steady", "settling") and (context := _context(facts, day, thresholds)):
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


def _volume_state(facts: Facts, view: VolumeView, day: date, thresholds: Thresholds) -> tuple[str, date | None, Reason]:
    coming, margin = view.coming_28d_mm, thresholds.steady_margin_mm
    start = min([*facts.dates[:1], *(socket.fitted_on for socket in facts.history.sockets)], default=None)
    if not view.enough or coming is None:
        logged = len(facts.between(date.min, day))
        needed = f"At least {SETTINGS.enough_days} days with one, over {SETTINGS.enough_span} days, are needed."
        text = f"Too little to say: {days(logged)} with a check-in. {needed}"
        return "gathering", start if start and start <= day else None, Reason("too-few-days", text)
    last = facts.last_on(day)
    if last is not None and (day - last).days >= QUIET_DAYS:
        text = f"No check-in for {days((day - last).days)}, since {short(last)}: what the limb does now is not known."
        return "gathering", last + timedelta(days=1), Reason("no-recent-days", text)
    inside = f"the coming 28 days are expected to bring {_mm(coming)} of sock; the margin is ±{margin:g} mm"
    if view.steady:
        return "steady", view.steady_since, Reason("coming-change-inside", f"Steady: {inside}.")
    if view.settling and not view.alarms:
        return "settling", view.settling_since, Reason("coming-change-outside", f"Still settling: {inside}.")
    if view.alarms:
        return "changing", view.alarms[-1].since, Reason("sudden-change", f"A sudden change was found: {inside}.")
    code = "coming-change-wide" if coming.low < margin and coming.high > -margin else "coming-change-outside"
    return "changing", view.unsettled_since, Reason(code, f"Not known to be steady: {inside}.")


def _cautions(facts: Facts, view: VolumeView, day: date, thresholds: Thresholds) -> list[Reason]:
    """What a prosthetist would want to weigh beside the state. None of these changes it."""
    limb, found = facts.history.limb, []
    socket = facts.socket_on(day)
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
                Reason(f"context-{tag}", f"{tag.replace('_', ' ').capitalize()} noted on {short(tagged[-1])}.")
            )
    if socket is None:
        found.append(Reason("no-socket", "No socket is entered, so there is no baseline to compare with."))
    elif not socket.stack_at_fitting:
        found.append(Reason("no-baseline", "The sock stack at fitting was not entered; none is assumed."))
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
    if limb.shape is None:
        found.append(Reason("shape-missing", "The shape of the limb is not entered."))
    elif limb.shape == "bulbous":
        found.append(Reason("shape-bulbous", "A bulbous end can't be drawn out of a socket made directly on the limb."))
    return found
