"""Two staff, one field: what a form showed when it was opened ↔ what stands there now. The second is told."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any


def changed(current: Mapping[str, Any], given: Mapping[str, Any], was: Mapping[str, Any]) -> dict[str, Any]:
    """What stands now in the fields `given` that somebody else changed since they were as in `was`.

    A field that is not in `was` is not asked about: older forms do not say it. One that both changed alike is no
    matter.
    """
    return {
        name: current.get(name)
        for name in given
        if name in was and _plain(current.get(name)) not in (_plain(was[name]), _plain(given[name]))
    }


def _plain(value: Any) -> Any:
    """As it is in JSON: a column keeps lists as text and flags as numbers, and a form nothing as ""."""
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, str) and value[:1] in ("[", "{"):
        try:
            return json.loads(value)
        except ValueError:
            return value
    return None if value == "" else value
