"""What the clinic's own record shows: from sockets, logs and signals to figures with intervals. Pure; ranks nobody.

Under five people nothing is shown as a figure: words say how many there are. From five on a median has a 90 % interval.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from math import hypot
from statistics import mean, median

from plytide.engine.core.counted import Interval, middle, share, worth
from plytide.engine.said import APART, Fit, Shown, Verdict, comings, good_fit, levels, steadies
from plytide.engine.series import resolved
from plytide.engine.worn import WEEK, mornings, thickness, usual
from plytide.model import CheckIn, LimbHistory, Said

LEAST_PEOPLE = 5  # fewer, and a figure would tell of persons; judgement
FORTNIGHT = timedelta(days=14)
SETTLED_IN = timedelta(days=14)  # the first fortnight in a new socket is left out of "after": judgement
PROMISES = ("level-held", "coming-held", "steady-28", "steady-90")
DAYS_SAID = 3  # of a fortnight, for a mean comfort: judgement


@dataclass(frozen=True, slots=True)
class Case:
    """One thing counted: whose, and how much."""

    person_id: str
    value: float


@dataclass(frozen=True, slots=True)
class Matter:
    """A signal as it was told, and when somebody at the clinic first did something about it."""

    person_id: str
    kind: str
    opened_at: datetime
    first_deed_at: datetime | None


@dataclass(frozen=True, slots=True)
class Figure:
    """`unit`: share, days, sockets, mm, points or hours. Without `interval` there are too few people, or no case.

    `left_out`: cases of which nothing can be told, such as a "steady" after which nothing was logged.
    """

    code: str
    unit: str
    people: int
    cases: int
    interval: Interval | None
    kind: str | None = None  # of a signal
    left_out: int = 0


@dataclass(frozen=True, slots=True)
class LimbRecord:
    person_id: str
    history: LimbHistory
    said: tuple[Said, ...] = ()  # as it was kept then, oldest first


def figures(limbs: Sequence[LimbRecord], matters: Iterable[Matter], today: date = date.max) -> list[Figure]:
    """All figures, in the order of the page; `today`: nothing is counted before its time is over."""
    by_kind: dict[str, list[Matter]] = defaultdict(list)
    for one in matters:
        by_kind[one.kind].append(one)
    found = [
        *_promise(limbs, today),
        _middle("first-to-definitive", "days", _first_to_definitive(limbs)),
        _share("remade", _remakes(limbs)),
        _middle("remakes", "sockets", _remakes(limbs)),
        _middle("sock-at-recast", "mm", [case for limb in limbs for case in _sock_at_recast(limb)]),
        _middle("comfort-change", "points", [case for limb in limbs for case in _comfort_change(limb)]),
    ]
    for kind in sorted(by_kind):
        told = by_kind[kind]
        acted = [Case(one.person_id, float(one.first_deed_at is not None)) for one in told]
        found.append(_share("acted-on", acted, kind))
        found.append(_middle("time-to-answer", "hours", _hours(told), kind))
    return found


def _people(cases: Sequence[Case]) -> int:
    return len({case.person_id for case in cases})


def _middle(code: str, unit: str, cases: Sequence[Case], kind: str | None = None) -> Figure:
    people = _people(cases)
    # One value a person: who has many cases is not the clinic, and makes no figure surer.
    own: dict[str, list[float]] = defaultdict(list)
    for case in cases:
        own[case.person_id].append(case.value)
    interval = middle([median(values) for values in own.values()]) if people >= LEAST_PEOPLE else None
    return Figure(code, unit, people, len(cases), interval, kind)


def _share(code: str, cases: Sequence[Case], kind: str | None = None) -> Figure:
    """Of those whose value is above 0."""
    own: dict[str, list[bool]] = defaultdict(list)
    for case in cases:
        own[case.person_id].append(case.value > 0)
    return _share_of(code, [(sum(each), len(each)) for each in own.values()], kind)


def _share_of(code: str, groups: Sequence[tuple[int, int]], kind: str | None = None) -> Figure:
    """`groups`: of each person so many hits of so many cases."""
    hits, cases = sum(hit for hit, _ in groups), sum(size for _, size in groups)
    interval = share(hits, cases, worth(groups)) if len(groups) >= LEAST_PEOPLE else None
    return Figure(code, "share", len(groups), cases, interval, kind)


def _held(code: str, told: Sequence[tuple[str, Verdict]]) -> Figure:
    """The share that held of what was told; its interval is wider by what no log can tell."""
    known = [Case(whose, float(each.held)) for whose, each in told if each.held is not None]
    found = _share(code, known)
    if found.interval:
        value, low, high = found.interval.value, found.interval.low, found.interval.high
        low, high = value - hypot(value - low, APART), value + hypot(high - value, APART)
        found = replace(found, interval=Interval(value, max(low, 0.0), min(high, 1.0)))
    return replace(found, left_out=len(told) - len(known))


def _promise(limbs: Sequence[LimbRecord], today: date) -> list[Figure]:
    """What was said, against what the logs showed later; and what the sockets gave."""
    of: dict[str, list[tuple[str, Verdict]]] = {code: [] for code in PROMISES}
    fits: list[tuple[str, Fit]] = []
    for limb in limbs:
        shown = Shown.of(limb.history)
        found = {
            "level-held": levels(shown, limb.said, today),
            "coming-held": comings(shown, limb.said, today),
            "steady-28": steadies(shown, limb.said, 28, today),
            "steady-90": steadies(shown, limb.said, 90, today),
        }
        for code, verdicts in found.items():
            of[code] += [(limb.person_id, each) for each in verdicts]
        fits += [(limb.person_id, each) for each in good_fit(shown, today)]
    figures = [_held(code, told) for code, told in of.items()]
    days: dict[str, tuple[int, int]] = {}
    for whose, each in fits:
        good, known = days.get(whose, (0, 0))
        days[whose] = good + each.good, known + each.known
    over = [Case(whose, each.good) for whose, each in fits if not each.worn]
    return [*figures, _middle("good-days", "days", over), _share_of("good-share", list(days.values()))]


def _first_to_definitive(limbs: Sequence[LimbRecord]) -> list[Case]:
    """Days from a limb's first socket to its first definitive one, where the first was not one itself."""
    found = []
    for limb in limbs:
        sockets = sorted(limb.history.sockets, key=lambda one: one.fitted_on)
        last = next((one for one in sockets if one.purpose == "definitive"), None)
        if last is not None and last is not sockets[0]:
            found.append(Case(limb.person_id, (last.fitted_on - sockets[0].fitted_on).days))
    return found


def _remakes(limbs: Sequence[LimbRecord]) -> list[Case]:
    """Sockets after the first, of each person who has one."""
    counted: dict[str, int] = {}
    for limb in limbs:
        if limb.history.sockets:
            counted[limb.person_id] = counted.get(limb.person_id, 0) + len(limb.history.sockets) - 1
    return [Case(person_id, remade) for person_id, remade in counted.items()]


def _recasts(limb: LimbRecord) -> list[date]:
    return sorted(one.fitted_on for one in limb.history.sockets)[1:]


def _sock_at_recast(limb: LimbRecord) -> list[Case]:
    """The usual stack of the week before another socket was fitted, in mm."""
    recasts = _recasts(limb)
    standing = resolved(limb.history.checkins) if recasts else []
    found = []
    for on in recasts:
        stack = usual([each for _, each in mornings(standing, on - timedelta(days=WEEK), on - timedelta(days=1))])
        if stack is not None:
            found.append(Case(limb.person_id, thickness(stack)))
    return found


def _comfort_change(limb: LimbRecord) -> list[Case]:
    """Mean comfort of the third and fourth week in the new socket less that of the fortnight before it."""
    recasts = _recasts(limb)
    standing = resolved(limb.history.checkins) if recasts else []
    found = []
    for on in recasts:
        before = _comfort(standing, on - FORTNIGHT, on)
        after = _comfort(standing, on + SETTLED_IN, on + SETTLED_IN + FORTNIGHT)
        if before is not None and after is not None:
            found.append(Case(limb.person_id, after - before))
    return found


def _comfort(checkins: Iterable[CheckIn], first: date, end: date) -> float | None:
    """The mean of the days' lowest answers from `first` to the day before `end`; None where too few days say it."""
    by_day: dict[date, int] = {}
    for one in checkins:
        if first <= one.date < end:
            by_day[one.date] = min(one.comfort, by_day.get(one.date, one.comfort))
    return mean(by_day.values()) if len(by_day) >= DAYS_SAID else None


def _hours(told: Iterable[Matter]) -> list[Case]:
    return [
        Case(one.person_id, (one.first_deed_at - one.opened_at).total_seconds() / 3600)
        for one in told
        if one.first_deed_at is not None
    ]
