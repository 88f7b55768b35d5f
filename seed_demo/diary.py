"""One wearer's log of one limb, day by day: what they wear, feel and write, as check-ins on the wire.

The wearer knows nothing of volume: they feel too loose or too tight, reach for the next sock they own,
hesitate, forget, and now and then write the wrong thing and correct it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np

from seed_demo.courses import between_pct, radius_mm, volume_pct
from seed_demo.habits import (
    Comfort,
    Event,
    Fall,
    Fitting,
    Habit,
    Hours,
    LimbPlan,
    Note,
    Signs,
    Skin,
    Tagged,
    Weight,
)
from seed_demo.socks import Stack, ladder, nearest, thickness_mm

OFFSET = "+01:00"
EAST_MINUTES = 60
CheckIn = dict[str, Any]


def uuid7(at: datetime, rng: np.random.Generator) -> str:
    """An id as a phone makes it: time first, then chance; the same seed gives the same id."""
    stamp = int(at.timestamp() * 1000) & (2**48 - 1)
    high, low = (int(part) for part in rng.integers(0, 2**62, size=2))
    bits = stamp << 80 | 7 << 76 | (high & 0xFFF) << 64 | 2 << 62 | low
    text = f"{bits:032x}"
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"


def need_mm(plan: LimbPlan, ago: float) -> float:
    """Sock thickness that would fill the socket of that day, from the limb's true volume and the pads."""
    socket = socket_on(plan, ago)
    at_fitting = radius_mm(plan.circumference_mm, volume_pct(plan.course, socket.ago))
    now = radius_mm(plan.circumference_mm, volume_pct(plan.course, ago))
    pads = sum(pad.thickness_mm for pad in plan.pads if socket.ago >= pad.ago >= ago)
    return thickness_mm(socket.stack, plan.wearing.make) + at_fitting - now - pads


def socket_on(plan: LimbPlan, ago: float) -> Fitting:
    worn = [socket for socket in plan.sockets if socket.ago >= ago]
    return worn[-1] if worn else plan.sockets[0]


def ramp(ago: int, since: int, over_days: float) -> float:
    return min(max((since - ago + 1) / max(over_days, 1), 0.0), 1.0)


@dataclass(slots=True)
class Day:
    """What the events of a story make of one day."""

    comfort: float = 0.0
    hours_share: float = 1.0
    weight_kg: float = 0.0
    skin: tuple[dict[str, Any], ...] = ()
    signs: tuple[str, ...] = ()
    tags: tuple[str, ...] = ()
    note: str | None = None
    falls: int | None = None
    photo: bool = False
    must_write: bool = False


def day_of(events: tuple[Event, ...], ago: int, weekday: int, rng: np.random.Generator) -> Day:
    day = Day()
    for event in events:
        if isinstance(event, Comfort):
            day.comfort += event.points * ramp(ago, event.ago, event.over_days)
        elif isinstance(event, Hours):
            day.hours_share *= 1 + (event.share - 1) * ramp(ago, event.ago, event.over_days)
        elif isinstance(event, Weight):
            day.weight_kg += event.kg * ramp(ago, event.ago, event.over_days)
        elif isinstance(event, Fall) and ago == event.ago:
            day.falls, day.note, day.must_write = 1, event.note, True
        elif isinstance(event, Note) and ago == event.ago:
            day.note, day.must_write = event.text, True
        elif isinstance(event, Skin) and event.ago - event.days < ago <= event.ago:
            minutes = None if event.minutes is None else float(round(event.minutes + rng.normal(0, 3)))
            finding = {"place": event.place, "finding": event.finding, "redness_minutes": minutes}
            day.skin += (finding,)
            day.comfort += event.comfort
            day.signs += event.signs
            day.photo |= event.photo
            day.must_write |= ago == event.ago or event.finding != "redness"
        elif isinstance(event, Signs) and event.ago - event.days < ago <= event.ago:
            day.signs += event.signs if rng.random() < event.chance else ()
        elif isinstance(event, Tagged) and event.ago - event.days <= ago <= event.ago:
            on_this_day = event.weekdays is None or weekday in event.weekdays
            day.tags += (event.tag,) if on_this_day else ()
    return day


def writes_on(habit: Habit, first: int, today: date, rng: np.random.Generator) -> dict[int, bool]:
    """Which of the days, counted back from today, the person writes on."""
    written = {}
    for ago in range(first, -1, -1):
        remembers = bool(rng.random() >= habit.misses)  # drawn on every day, so that no date changes a story
        weekday = (today - timedelta(days=ago)).weekday()
        written[ago] = remembers and weekday in habit.weekdays and ago >= habit.silent_for
    return written


@dataclass(slots=True)
class Diary:
    """Walks through the days of one limb. `authors` gives who writes which moment."""

    plan: LimbPlan
    habit: Habit
    events: tuple[Event, ...]
    today: date
    rng: np.random.Generator
    key: str
    authors: dict[str, tuple[str, float]]  # moment → (the other author, how often)
    rungs: list[Stack] = field(init=False)
    scale: float = field(init=False)  # how this wearer's socks differ from the bench

    def __post_init__(self) -> None:
        wearing = self.plan.wearing
        self.rungs = ladder(dict(wearing.owned), wearing.make, wearing.most)
        self.scale = float(np.exp(self.rng.normal(0, self.plan.noise.thickness)))

    def entries(self, writes: dict[int, bool]) -> Iterator[CheckIn]:
        noise, wearing = self.plan.noise, self.plan.wearing
        rungs, scale = self.rungs, self.scale
        wobble = 0.0
        fresh = noise.mm * np.sqrt(1 - noise.correlation**2)
        first = max(writes)
        rung = nearest(rungs, wearing.make, need_mm(self.plan, first), scale)
        before: CheckIn | None = None
        for ago in range(first, -1, -1):
            wobble = noise.correlation * wobble + float(self.rng.normal(0, fresh))
            need = need_mm(self.plan, ago) + wobble
            if any(socket.ago == ago for socket in self.plan.sockets):
                rung = nearest(rungs, wearing.make, need, scale)
            wanted = nearest(rungs, wearing.make, need, scale)
            if wanted != rung and self.rng.random() >= self.habit.hesitates:
                rung = wanted if abs(wanted - rung) < 2 else rung + int(np.sign(wanted - rung)) * 2
            on = self.today - timedelta(days=ago)
            day = day_of(self.events, ago, on.weekday(), self.rng)
            if not (writes[ago] or (day.must_write and ago >= self.habit.silent_for)):
                continue
            for entry in self.day_entries(ago, on, day, need, rung, before):
                yield entry
                if entry["replaces"] is None and entry["moment"] == "putting_on":
                    before = entry

    def day_entries(
        self, ago: int, on: date, day: Day, need: float, rung: int, before: CheckIn | None
    ) -> Iterator[CheckIn]:
        habit, rng, wearing = self.habit, self.rng, self.plan.wearing
        swing = self.swing_mm(ago)
        wanted = nearest(self.rungs, wearing.make, need + swing, self.scale)
        evening_rung = rung if rng.random() < habit.hesitates else max(rung, min(wanted, rung + 2))
        moments = [("putting_on", need, rung, 7 * 60 + 20)] if rng.random() < habit.morning else []
        if rng.random() < habit.midday_sock and evening_rung > rung:
            moments.append(("during", need + 0.6 * swing, evening_rung, 13 * 60))
        if rng.random() < habit.evening or not moments or day.falls:
            moments.append(("end_of_day", need + swing, evening_rung, 20 * 60 + 50))
        for place, (moment, felt_need, worn, minute) in enumerate(moments):
            last_of_day = place == len(moments) - 1
            entry = self.entry(ago, on, day, moment, felt_need, worn, minute, before, last_of_day)
            if rng.random() < habit.mistakes and worn > 0:
                yield from self.mistaken(entry, worn)
            else:
                yield entry

    def swing_mm(self, ago: float) -> float:
        radius = radius_mm(self.plan.circumference_mm, volume_pct(self.plan.course, ago))
        usual = radius * (1 - np.sqrt(1 - self.plan.noise.swing_pct / 100))
        return float(usual * np.clip(self.rng.normal(1, 0.35), 0, 2.5))

    def entry(
        self, ago: int, on: date, day: Day, moment: str, need: float, worn: int, minute: int,
        before: CheckIn | None, last_of_day: bool,
    ) -> CheckIn:  # fmt: skip
        habit, rng, wearing = self.habit, self.rng, self.plan.wearing
        at = minute + int(np.clip(rng.normal(0, 28), -70, 70))
        local = datetime(on.year, on.month, on.day, tzinfo=UTC) + timedelta(minutes=at)
        written = local - timedelta(minutes=EAST_MINUTES) + timedelta(seconds=int(rng.integers(5, 240)))
        misfit = need - thickness_mm(self.rungs[worn], wearing.make, self.scale)
        stack = self.socks(self.rungs[worn])
        same = before is not None and moment == "putting_on" and before["stack"] == stack and not day.skin
        prefilled = bool(same and rng.random() < habit.prefilled)
        comfort = habit.comfort + day.comfort - 1.6 * max(abs(misfit) - 0.15, 0) + rng.normal(0, 0.5)
        comfort -= 0.4 * (moment == "end_of_day")
        fit = self.fit(misfit)
        if prefilled and before is not None:
            comfort, fit = before["comfort"], before["fit"]
        other, share = self.authors.get(moment, ("", 0.0))
        by = other if other and rng.random() < share else "wearer"
        if by != "wearer" and share < 1:
            comfort -= 0.8  # who looks on is more worried than who wears it
        weight_kg = self.weight(day)
        hours = habit.hours * day.hours_share * (1 + rng.normal(0, 0.08))
        evening = moment == "end_of_day"
        entry_id = uuid7(written, rng)
        return {
            "id": entry_id,
            "limb": self.key,
            "by": by,
            "date": on.isoformat(),
            "time": local.strftime("%H:%M"),
            "offset": OFFSET,
            "moment": moment,
            "stack": stack,
            "fit": fit,
            "signs": sorted(set(day.signs) | self.fit_signs(misfit)) if not prefilled else [],
            "comfort": int(np.clip(round(comfort), 0, 10)),
            "pain": int(np.clip(round(7 - comfort + rng.normal(0, 0.7)), 0, 10)) if evening else None,
            "skin": [dict(finding) for finding in day.skin] if last_of_day else [],
            "skin_checked": bool(last_of_day and rng.random() < 0.75) or bool(last_of_day and day.skin),
            "hours_worn": round(float(np.clip(hours, 0.5, 18)) * 2) / 2 if evening else None,
            "activity": str(rng.choice(["less", "usual", "more"], p=[0.2, 0.65, 0.15])) if evening else None,
            "falls": day.falls if last_of_day else None,
            "weight_kg": weight_kg if on_the_scale(moment, on, habit, day) else None,
            "tags": list(day.tags),
            "note": day.note if last_of_day else None,
            "prefilled": prefilled,
            "replaces": None,
            "withdrawn": False,
            "written_at": written.strftime("%Y-%m-%dT%H:%M:%SZ"),
            **({"photos": [f"{entry_id}-1"]} if last_of_day and day.photo else {}),
        }

    def socks(self, stack: Stack) -> list[dict[str, Any]]:
        make = self.plan.wearing.make if self.plan.wearing.says_make else "unknown"
        return [{"ply": ply, "make": make} for ply in stack]

    def fit(self, misfit: float) -> str | None:
        if self.rng.random() >= self.habit.says_fit:
            return None
        felt = misfit + self.rng.normal(0, 0.15)
        return "loose" if felt > 0.3 else "tight" if felt < -0.3 else "good"

    def fit_signs(self, misfit: float) -> set[str]:
        if misfit > 0.75 and self.rng.random() < 0.5:
            return {"slips_up_and_down" if self.rng.random() < 0.6 else "sinks_to_bottom"}
        if misfit < -0.75 and self.rng.random() < 0.5:
            return {"cannot_get_fully_in"}
        return set()

    def weight(self, day: Day) -> float:
        return round(self.habit.weight_kg + day.weight_kg + float(self.rng.normal(0, 0.25)), 1)

    def mistaken(self, entry: CheckIn, worn: int) -> Iterator[CheckIn]:
        """The entry with a sock left out, and ten minutes later the correction of it."""
        wrong = {**entry, "stack": entry["stack"][:-1], "prefilled": False}
        yield wrong
        written = datetime.strptime(entry["written_at"], "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
        later = written + timedelta(minutes=10)
        yield {
            **entry,
            "id": uuid7(later, self.rng),
            "written_at": later.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "replaces": wrong["id"],
            "prefilled": False,
        }


def on_the_scale(moment: str, on: date, habit: Habit, day: Day) -> bool:
    """Weekly on Sundays; daily for those whose weight is moving."""
    return habit.weighs and moment == "putting_on" and (on.weekday() == 6 or abs(day.weight_kg) > 0.3)


def coming_mm(plan: LimbPlan, ago: float, days: int) -> float:
    """Change of the need in mm of sock over the `days` after a day, in a socket that fits then."""
    now = radius_mm(plan.circumference_mm, 0.0)
    then = radius_mm(plan.circumference_mm, between_pct(plan.course, ago, ago - days))
    return now - then
