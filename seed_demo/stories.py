"""The cast's stories: all that a clinic and its phones would have written up to today, and the truth."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from seed_demo.courses import Dialysis, Drift, LogTime, Piece, Settle, Shift, between_pct, volume_pct
from seed_demo.diary import CheckIn, Diary, coming_mm, writes_on
from seed_demo.habits import Fitting, Habit, LimbPlan, MakingPlan, Noise, Part
from seed_demo.people import CAST, FAMILY, GIVEN, STAFF, TEAMS

MARGIN_MM = 0.7  # one thin single-material sock: the default margin of "steady"
HORIZON_DAYS = 28

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Truth:
    """What is really so about a limb today. Percent of the volume it had then; negative is smaller."""

    change_pct: float  # against the day the current socket was fitted
    change_28d_pct: float
    coming_28d_pct: float
    coming_28d_mm: float  # of sock, in a socket that fits today; positive is a thicker sock
    daily_swing_pct: float
    settles_on: date | None  # first day whose coming 28 days stay within the margin; None if already past
    expect: tuple[str, ...]  # signal kinds a prosthetist would want open today
    state: tuple[str, ...]  # readiness that would be fair today; empty where the story leaves it open


@dataclass(frozen=True, slots=True)
class LimbStory:
    """One limb in the words of the clinic's API, without ids of the server."""

    key: str
    limb: Json
    sockets: list[Json]  # each with a local "id", and "suspensions": [(on, suspension)] where it was switched
    pads: list[Json]  # with the local "socket_id"
    measurements: list[Json]
    interventions: list[Json]
    truth: Truth
    making: MakingPlan | None = None
    outcome_measures: tuple[Json, ...] = ()


@dataclass(frozen=True, slots=True)
class Story:
    """One person: who they are, their limbs, who writes, and all they wrote, oldest first.

    A check-in names its limb by `limb` (a LimbStory's key) and its author by `by` ("wearer" or "caregiver");
    the rest is the check-in of the sync call.
    """

    key: str
    line: str
    person: Json
    roles: tuple[str, ...]  # who has a phone, the main writer first
    caregiver: str | None
    limbs: tuple[LimbStory, ...]
    visits: list[Json]
    checkins: list[CheckIn]

    def histories(self) -> Iterator[Json]:
        """The same as limb histories: what `plytide assess` reads, one line a limb."""
        for limb in self.limbs:
            entries = [c for c in self.checkins if c["limb"] == limb.key]
            facts = {"born_on": self.person["born_on"], "tags": self.person["tags"]}
            yield {
                "limb": {"id": limb.key, **limb.limb, **facts},
                "sockets": [without(socket, "suspensions") for socket in limb.sockets],
                "pads": limb.pads,
                "measurements": limb.measurements,
                "checkins": [without(entry, "limb", "by", "written_at") for entry in entries],
            }


def without(thing: Json, *names: str) -> Json:
    return {name: value for name, value in thing.items() if name not in names}


def cast(people: int, days: int, seed: int, today: date) -> list[Story]:
    """The first `people` of the cast with up to `days` of log; more than the cast is varied repeats."""
    rng = np.random.default_rng([seed, 1])
    parts = [CAST[n] if n < len(CAST) else varied(CAST[n % len(CAST)], n, rng) for n in range(people)]
    return [tell(part, n, days, seed, today) for n, part in enumerate(parts)]


def tell(part: Part, number: int, days: int, seed: int, today: date) -> Story:
    rng = np.random.default_rng([seed, 2, number])
    key = f"p{number + 1:03d}"
    habit = part.habit
    longest = min(days - 1, habit.only_last if habit.only_last is not None else days - 1)
    writes = writes_on(habit, longest, today, rng)
    limbs: list[LimbStory] = []
    checkins: list[CheckIn] = []
    for place, plan in enumerate(part.limbs):
        plan = replace(plan, course=tuple(dated(piece, today) for piece in plan.course))
        limb_key = f"{key}{'ab'[place]}"
        first = min(longest, max(socket.ago for socket in plan.sockets))
        diary = Diary(plan, habit, part.events + plan.events, today, rng, limb_key, authors(part))
        checkins += diary.entries({ago: wrote for ago, wrote in writes.items() if ago <= first})
        limbs.append(limb_story(limb_key, part, plan, first, today, rng))
    checkins.sort(key=lambda entry: entry["written_at"])
    days_old = round(part.age * 365.25) + int(rng.integers(0, 300 if part.age > 18 else 9))
    born = today - timedelta(days=days_old)
    return Story(
        key=key,
        line=part.line,
        person={
            "name": part.name,
            "born_on": born.isoformat(),
            "tags": list(part.tags),
            **dict(TEAMS[tag] for tag in part.tags if tag in TEAMS),
        },
        roles=roles(part),
        caregiver=part.caregiver,
        limbs=tuple(limbs),
        visits=[
            {"on": (today + timedelta(days=ahead)).isoformat(), "time": time, "what": what}
            for ahead, time, what in part.visits
        ],
        checkins=checkins,
    )


def roles(part: Part) -> tuple[str, ...]:
    if part.caregiver is None:
        return ("wearer",)
    return ("wearer", "caregiver") if part.wearer_writes else ("caregiver",)


def authors(part: Part) -> dict[str, tuple[str, float]]:
    """Who else writes: a caregiver writes all for a small child, and mostly the evenings beside an adult."""
    if part.caregiver is None:
        return {}
    if not part.wearer_writes:
        return {moment: ("caregiver", 1.0) for moment in ("putting_on", "during", "end_of_day")}
    return {"end_of_day": ("caregiver", 0.85), "putting_on": ("caregiver", 0.05)}


def dated(piece: Piece, today: date) -> Piece:
    return replace(piece, today_weekday=today.weekday()) if isinstance(piece, Dialysis) else piece


def limb_story(key: str, part: Part, plan: LimbPlan, first: int, today: date, rng: np.random.Generator) -> LimbStory:
    def on(ago: float) -> str:
        return (today - timedelta(days=round(ago))).isoformat()

    weeks = plan.weeks_since_amputation
    sockets = [
        socket_json(f"{key}-s{n + 1}", socket, plan.sockets[n + 1 : n + 2], plan, on)
        for n, socket in enumerate(plan.sockets)
    ]
    return LimbStory(
        key=key,
        limb={
            "side": plan.side,
            "level": plan.level,
            "amputated_on": None if weeks is None else on(weeks * 7),
            "shape": plan.shape,
            "reference_circumference_mm": plan.circumference_mm,
        },
        sockets=sockets,
        pads=[
            {
                "socket_id": sockets[max(n for n, s in enumerate(plan.sockets) if s.ago >= pad.ago)]["id"],
                "on": on(pad.ago),
                "thickness_mm": pad.thickness_mm,
                "place": pad.place,
                "length_mm": pad.length_mm,
                "width_mm": pad.width_mm,
            }
            for pad in plan.pads
        ],
        measurements=measurements(part, plan, first, on, rng),
        interventions=[{"on": on(done.ago), "kind": done.kind, "note": done.note} for done in plan.done],
        truth=truth(plan, today),
        making=plan.making,
        outcome_measures=tuple(
            {
                "on": on(one.ago),
                "kind": one.kind,
                "value": one.value,
                "distance_m": one.distance_m,
                "device": one.device,
            }
            for one in plan.outcomes
        ),
    )


def socket_json(key: str, socket: Fitting, then: tuple[Fitting, ...], plan: LimbPlan, on: Any) -> Json:
    make = plan.wearing.make if plan.wearing.says_make else "unknown"
    return {
        "id": key,
        "fitted_on": on(socket.ago),
        "retired_on": on(then[0].ago) if then else None,
        "purpose": socket.purpose,
        "made": socket.made,
        "material": socket.material,
        "suspension": socket.suspension,
        "liner_mm": socket.liner_mm,
        "weight_limit_kg": socket.weight_limit_kg,
        "stack_at_fitting": [{"ply": ply, "make": make} for ply in socket.stack],
        "note": socket.note,
        "suspensions": [(on(ago), to) for ago, to in (socket.switched,)] if socket.switched else [],
    }


# Circumference at 0, 40, 80, 120 mm from the end, as a share of the reference.
PROFILES = {
    "conical": (0.72, 0.88, 0.97, 1.03),
    "cylindrical": (0.85, 0.96, 1.0, 1.03),
    "bulbous": (0.97, 1.06, 1.0, 1.0),
}
TAPE_MM = 3.0  # one rater's own scatter; judgement, between raters it is more


def measurements(part: Part, plan: LimbPlan, first: int, on: Any, rng: np.random.Generator) -> list[Json]:
    """The clinic's tape on the days of a fitting and at intervals, ten minutes after doffing."""
    fittings = {socket.ago for socket in plan.sockets if socket.ago <= first}
    days = sorted(fittings | set(range(first, -1, -plan.tape_every_days)), reverse=True)
    kept = [ago for n, ago in enumerate(days) if n == 0 or days[n - 1] - ago > 5 or ago in fittings]
    found = []
    for ago in kept:
        now = math.sqrt(1 + volume_pct(plan.course, ago) / 100)
        levels = [
            {
                "name": f"{from_end} mm from the end",
                "from_end_mm": from_end,
                "circumference_mm": float(round(plan.circumference_mm * share * now + rng.normal(0, TAPE_MM))),
            }
            for from_end, share in zip((0, 40, 80, 120), PROFILES[plan.shape], strict=True)
        ]
        weight = round(part.habit.weight_kg + float(rng.normal(0, 0.3)), 1) if part.habit.weighs else None
        found.append(
            {
                "on": on(ago),
                "levels": levels,
                "minutes_since_doffing": 10 if plan.level == "transtibial" else 30,
                "weight_kg": weight if ago > 60 else None,
                "measured_by": STAFF[1 if rng.random() < 0.3 else 0]["name"],
            }
        )
    return found


def truth(plan: LimbPlan, today: date) -> Truth:
    current = plan.sockets[-1]
    return Truth(
        change_pct=between_pct(plan.course, current.ago, 0),
        change_28d_pct=between_pct(plan.course, HORIZON_DAYS, 0),
        coming_28d_pct=between_pct(plan.course, 0, -HORIZON_DAYS),
        coming_28d_mm=coming_mm(plan, 0, HORIZON_DAYS),
        daily_swing_pct=plan.noise.swing_pct,
        settles_on=next(
            (
                today + timedelta(days=ahead)
                for ahead in range(0, 400)
                if abs(coming_mm(plan, -ahead, HORIZON_DAYS)) < MARGIN_MM
            ),
            None,
        ),
        expect=plan.expect,
        state=plan.state,
    )


# A larger clinic.


def varied(part: Part, number: int, rng: np.random.Generator) -> Part:
    """The same kind of story with another name, limb, socks and course."""
    name = f"{GIVEN[int(rng.integers(len(GIVEN)))]} {FAMILY[int(rng.integers(len(FAMILY)))]}"
    habit = part.habit
    return replace(
        part,
        name=name,
        age=part.age * float(rng.uniform(0.9, 1.12)),
        caregiver=None if part.caregiver is None else f"{GIVEN[number % len(GIVEN)]} {name.split(' ', 1)[1]}",
        habit=varied_habit(habit, rng),
        limbs=tuple(varied_limb(plan, rng) for plan in part.limbs),
    )


def varied_habit(habit: Habit, rng: np.random.Generator) -> Habit:
    return replace(
        habit,
        misses=float(np.clip(habit.misses * rng.uniform(0.6, 1.6), 0.02, 0.4)),
        evening=float(np.clip(habit.evening * rng.uniform(0.7, 1.3), 0.05, 0.95)),
        comfort=float(np.clip(habit.comfort + rng.normal(0, 0.5), 5.5, 9.2)),
        hours=float(habit.hours * rng.uniform(0.85, 1.1)),
    )


def varied_limb(plan: LimbPlan, rng: np.random.Generator) -> LimbPlan:
    socks = replace(plan.wearing, make="blend") if rng.random() < 0.25 else plan.wearing
    noise: Noise = replace(plan.noise, mm=float(plan.noise.mm * rng.uniform(0.7, 1.4)))
    return replace(
        plan,
        side="left" if rng.random() < 0.5 else "right",
        circumference_mm=float(round(plan.circumference_mm * rng.uniform(0.94, 1.07))),
        course=tuple(varied_piece(piece, rng) for piece in plan.course),
        wearing=socks,
        noise=noise,
        making=None,  # the shelf holds enough for the cast alone
    )


def varied_piece(piece: Piece, rng: np.random.Generator) -> Piece:
    by = float(rng.uniform(0.8, 1.25))
    if isinstance(piece, Settle):
        return Settle(piece.total_pct * by, piece.tau_days * float(rng.uniform(0.8, 1.3)))
    if isinstance(piece, LogTime):
        return LogTime(piece.weeks_now, piece.pct_per_ln * by)
    if isinstance(piece, Drift):
        return Drift(piece.pct_per_30d * by)
    if isinstance(piece, Shift):
        return replace(piece, size_pct=piece.size_pct * by)
    return replace(piece, size_pct=piece.size_pct * by)
