"""An assessment over HTTP: its shape, and a day that is none."""

from __future__ import annotations

from datetime import date

import pytest

from tests.actors import Cast, fields_of


def test_assessment_has_the_contracts_shape(cast: Cast, today: date) -> None:
    cast.anouk.sync(cast.anouk.checkin(today))
    answer = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}/assessment").get_json()
    assert {"limb_id", "as_of", "checkins_used", "volume", "readiness", "outlook", "signals"} <= set(answer)
    assert answer["readiness"]["state"] == "gathering"
    assert answer["readiness"]["reasons"]
    assert answer["volume"]["coming_28d_pct"] is None


@pytest.mark.parametrize("as_of", ["tomorrow", "2025-02-30", "20250915", "2025-9-1"])
def test_a_date_that_is_none_is_named(cast: Cast, as_of: str) -> None:
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    assert fields_of(cast.ida.get(path, query_string={"as_of": as_of})) == ["as_of"]
