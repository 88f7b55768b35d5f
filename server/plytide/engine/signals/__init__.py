"""Assessment and log → signals, each with its because and its evidence.

The folder is the register: each file here is a signal. It has KINDS (one, or a few that one rule tells apart) and a
`rule` that asks one question of one day and looks back only, so that a replay says what would have been said.
`since` is the first day of the unbroken run for which the answer was yes.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterable
from datetime import date

from plytide.engine.facts import Facts
from plytide.engine.safety import rank
from plytide.engine.signal_kind import Kind
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.model import Signal

Rule = Callable[[Facts, date, VolumeView, Thresholds], Iterable[Signal]]
URGENCY = {"urgent": 0, "call": 1, "note": 2}

_FILES = [importlib.import_module(f"{__name__}.{one.name}") for one in pkgutil.iter_modules(__path__)]
RULES: tuple[Rule, ...] = tuple(one.rule for one in _FILES)
KINDS: dict[str, Kind] = {each.kind: each for one in _FILES for each in one.KINDS}


def kind_of(code: str) -> Kind:
    """What is to be said of a kind; of one whose file is gone (kept from before), as much as its code tells."""
    return KINDS.get(code) or Kind(code, code.replace("-", " "), "What is it like now?", "What the signal names.")


def signals_of(facts: Facts, view: VolumeView, day: date, thresholds: Thresholds) -> tuple[Signal, ...]:
    """All that is to be said of a limb on a day, most urgent first."""
    found = [signal for rule in RULES for signal in rule(facts, day, view, thresholds)]
    return tuple(
        sorted(found, key=lambda each: (URGENCY[each.level], rank(each.rule), each.since, each.kind, each.rule or ""))
    )
