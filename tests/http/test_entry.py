"""What the clinic mistypes is refused by field."""

from __future__ import annotations

from typing import Any

import pytest

from tests.actors import Cast, fields_of


@pytest.mark.parametrize(
    ("what", "change", "field"),
    [
        ("person", {"name": ""}, "name"),
        ("person", {"born_on": "1900-13-01"}, "born_on"),
        ("person", {"tags": ["tall"]}, "tags[0]"),
        ("person", {"shoe": 43}, "shoe"),
        ("limb", {"side": "front"}, "side"),
        ("limb", {"level": "arm"}, "level"),
        ("limb", {"reference_circumference_mm": 0}, "reference_circumference_mm"),
        ("limb", {"reference_circumference_mm": "300"}, "reference_circumference_mm"),
        ("limb", {"amputated_on": "2031-01-01"}, "amputated_on"),
        ("socket", {"fitted_on": "2025-01-01"}, "fitted_on"),
        ("socket", {"retired_on": "2025-03-01"}, "retired_on"),
        ("socket", {"weight_limit_kg": -1}, "weight_limit_kg"),
        ("socket", {"stack_at_fitting": [{"ply": 4}]}, "stack_at_fitting[0].ply"),
        ("measurement", {"levels": []}, "levels"),
        (
            "measurement",
            {"levels": [{"from_end_mm": 0, "circumference_mm": 0}]},
            "levels[0].circumference_mm",
        ),
    ],
)
def test_what_the_clinic_mistypes_is_named(cast: Cast, what: str, change: dict[str, Any], field: str) -> None:
    limb = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    path, good = {
        "person": ("/api/clinic/people", {"name": "Farouk", "born_on": "1960-01-02", "tags": []}),
        "limb": (f"/api/clinic/people/{cast.anouk.id}/limbs", {"side": "right", "level": "transtibial"}),
        "socket": (f"{limb}/sockets", {"fitted_on": "2025-06-01", "purpose": "definitive"}),
        "measurement": (
            f"{limb}/measurements",
            {"on": "2025-06-01", "levels": [{"from_end_mm": 0, "circumference_mm": 240}]},
        ),
    }[what]
    assert fields_of(cast.ida.post(path, {**good, **change})) == [field]
    assert cast.ida.post(path, good).status_code == 201
