"""A pass that goes on from what was kept says the same as one over the whole log, but for the last digits of a sum."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from plytide.engine.core import trend
from plytide.engine.core.kept import Shelf
from plytide.engine.volume import VolumeView, assess_volume
from plytide.model import LimbHistory, Pad, Sock
from seed_demo.cohort import Knobs, Simulated, cohort


def seen(histories: list[LimbHistory], people: list[Simulated], day: int, shelf: Shelf | None) -> list[VolumeView]:
    dates = [[p.history.sockets[0].fitted_on + timedelta(days=day)] for p in people]
    return [row[0] for row in assess_volume(histories, dates, shelf=shelf)]


def written(history: LimbHistory, day: int) -> LimbHistory:
    """What was there by a day."""
    until = history.sockets[0].fitted_on + timedelta(days=day)
    return replace(
        history,
        checkins=tuple(c for c in history.checkins if c.date <= until),
        sockets=tuple(s for s in history.sockets if s.fitted_on <= until),
        measurements=tuple(m for m in history.measurements if m.on <= until),
    )


def same(one: Any, two: Any) -> bool:
    """Equal in all that is no float, and in floats to 1e-9."""
    if isinstance(one, float) and isinstance(two, float):
        return abs(one - two) < 1e-9
    if isinstance(one, tuple | list):
        return isinstance(two, tuple | list) and len(one) == len(two) and all(map(same, one, two))
    if is_dataclass(one):
        return type(one) is type(two) and all(same(getattr(one, f.name), getattr(two, f.name)) for f in fields(one))
    return bool(one == two)


@pytest.mark.parametrize("knobs", [Knobs(days=50), Knobs(days=50, sockets=2, home_tape_every=9)], ids=["one", "two"])
def test_day_after_day_with_late_and_corrected_entries_it_says_what_the_whole_log_says(knobs: Knobs) -> None:
    people, rng, shelf = cohort(4, 61, knobs), np.random.default_rng(5), Shelf(100)
    withheld: dict[str, set[str]] = {}
    changed: dict[str, tuple[Sock, ...]] = {}
    for p in people:
        ids = [c.id for c in p.history.checkins]
        withheld[p.history.limb.id] = set(rng.choice(ids, min(4, len(ids)), replace=False).tolist())
    for day in [*range(12, 30), 33, 34, 41, 48, 49, 50]:
        now = []
        for p in people:
            late = withheld[p.history.limb.id]
            if late and rng.random() < 0.2:
                late.pop()
            known = written(p.history, day)
            if known.checkins and rng.random() < 0.15:
                changed[known.checkins[int(rng.integers(len(known.checkins)))].id] = (Sock(5, "single"),)
            kept = [c for c in known.checkins if c.id not in late]
            now.append(replace(known, checkins=tuple(replace(c, stack=changed.get(c.id, c.stack)) for c in kept)))
        assert same(seen(now, people, day, shelf), seen(now, people, day, None)), day


def steps(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many days each pass went over."""
    gone: list[int] = []
    real = trend._Ahead.to

    def counted(self: trend._Ahead, day: int) -> None:
        gone.append(day)
        real(self, day)

    monkeypatch.setattr(trend._Ahead, "to", counted)
    return gone


def test_a_new_day_costs_one_step_and_a_correction_those_since_then(monkeypatch: pytest.MonkeyPatch) -> None:
    people, shelf = cohort(1, 62, Knobs(days=60, missing=0.05)), Shelf(10)
    history = people[0].history
    seen([written(history, 50)], people, 50, shelf)
    gone = steps(monkeypatch)
    seen([written(history, 51)], people, 51, shelf)
    assert set(gone) == {-1, 0}
    gone.clear()
    start = history.sockets[0].fitted_on
    other = tuple(
        replace(c, stack=(Sock(5, "single"),)) if (c.date - start).days == 48 else c for c in history.checkins
    )
    seen([written(replace(history, checkins=other), 51)], people, 51, shelf)
    assert max(gone) <= 51 - 36  # the state kept two weeks before the first day asked for
    gone.clear()
    seen([written(replace(history, checkins=other), 51)], people, 51, shelf)
    assert set(gone) == {-1, 0}


def test_what_changes_the_whole_log_is_done_again() -> None:
    people, shelf = cohort(3, 63, Knobs(days=60)), Shelf(10)
    plain = [written(p.history, 40) for p in people]
    seen(plain, people, 40, shelf)
    for changed in (
        [replace(h, limb=replace(h.limb, reference_circumference_mm=250.0)) for h in plain],
        [replace(h, limb=replace(h.limb, amputated_on=None)) for h in plain],
        [replace(h, sockets=(replace(h.sockets[0], stack_at_fitting=(Sock(5, "single"),)),)) for h in plain],
        [replace(h, pads=(Pad(h.sockets[0].id, h.sockets[0].fitted_on + timedelta(days=9), 1.5),)) for h in plain],
        [replace(h, limb=replace(h.limb, tags=("dialysis",))) for h in plain],
    ):
        assert same(seen(changed, people, 41, shelf), seen(changed, people, 41, None))
        assert same(seen(changed, people, 30, shelf), seen(changed, people, 30, None))


def test_a_shelf_keeps_so_many_and_forgets_those_longest_not_asked_for() -> None:
    people, shelf = cohort(3, 64, Knobs(days=50)), Shelf(2)
    for p in people:
        seen([p.history], [p], 30, shelf)
    assert len(shelf) == 2
