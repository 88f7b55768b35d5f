"""A measurement over HTTP: its volume, its error and what it says beside the one before."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests.actors import Cast


def test_a_measurement_shows_its_volume_and_the_tapes_own_error(cast: Cast) -> None:
    """Levels 34, 33, 31, 28, 24 cm every 4 cm are 1176.16 mL (truncated cones)."""
    levels = [{"from_end_mm": 40 * n, "circumference_mm": 10 * c} for n, c in enumerate((24, 28, 31, 33, 34))]
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    cast.ida.made(f"{path}/measurements", {"on": "2025-06-01", "levels": levels})
    measured = cast.ida.get(path).get_json()["measurements"][0]
    assert measured["volume_ml"] == pytest.approx(1176.16, abs=0.1)
    assert measured["volume_error_ml"] > 5


def test_a_measurement_shows_what_it_says_beside_the_one_before(cast: Cast, today: date) -> None:
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    cast.anouk.sync(cast.anouk.checkin(today))
    for back, less in ((20, 0), (5, 20)):
        levels = [{"from_end_mm": 40 * n, "circumference_mm": c - less} for n, c in enumerate((300, 321, 357, 332))]
        on = (today - timedelta(days=back)).isoformat()
        cast.ida.made(f"{path}/measurements", {"on": on, "levels": levels, "measured_by": "Ida"})
    first, second = (one["tape"] for one in cast.ida.get(path).get_json()["measurements"])
    assert first["change_pct"] is None and first["since"] is None
    assert second["since"] == (today - timedelta(days=20)).isoformat()
    assert second["change_pct"] == pytest.approx(-11.8, abs=0.2) and second["beyond"] and second["same_hand"]
    assert second["limit_pct"] == pytest.approx(6.5, abs=0.1)
