"""Outcome measures: what is kept of them, what can't be, a mistake, a replay, another clinic."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from tests.actors import Cast, Clock
from tests.conftest import signed_in


def told(today: date, **said: Any) -> dict[str, Any]:
    return {"kind": "timed_walk", "on": today.isoformat(), "value": 9.4, "distance_m": 10, "device": "a stick", **said}


def measures(cast: Cast, query: str = "") -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}{query}").get_json()[
        "outcome_measures"
    ]
    return found


def test_a_measure_stands_with_its_day_device_and_who_measured(cast: Cast, today: date) -> None:
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}/outcome-measures"
    cast.ida.made(path, told(today, note=" New shoes "))
    earlier = (today - timedelta(days=30)).isoformat()
    cast.juno.made(path, {"kind": "comfort", "on": earlier, "value": 6})
    first, second = measures(cast)
    assert (first["kind"], first["value"], first["by"], first["distance_m"]) == ("comfort", 6, "juno", None)
    assert (second["device"], second["note"], second["distance_m"], second["by"]) == ("a stick", "New shoes", 10, "ida")


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"kind": "comfort", "value": 11, "distance_m": None}, "value"),
        ({"kind": "up_and_go", "value": 1, "distance_m": None}, "value"),
        ({"kind": "two_minute_walk", "value": 500, "distance_m": None}, "value"),
        ({"value": 0}, "value"),
        ({"value": True}, "value"),
        ({"distance_m": 100, "value": 1}, "value"),
        ({"distance_m": None}, "distance_m"),
        ({"kind": "comfort", "value": 7}, "distance_m"),
        ({"kind": "some_walk"}, "kind"),
        ({"on": "2100-01-01"}, "on"),
        ({"on": "1990-01-01"}, "on"),
    ],
)
def test_what_can_not_be_is_refused_by_field(cast: Cast, today: date, said: dict[str, Any], field: str) -> None:
    answer = cast.ida.post(f"/api/clinic/limbs/{cast.anouk.limb_id}/outcome-measures", told(today, **said))
    assert answer.status_code == 422 and field in answer.get_json()["error"]["fields"]
    assert measures(cast) == []


def test_a_mistake_is_taken_out_once_and_a_replay_knows_of_it(cast: Cast, today: date, clock: Clock) -> None:
    made = cast.ida.made(f"/api/clinic/limbs/{cast.anouk.limb_id}/outcome-measures", told(today))["id"]
    clock.forward(days=1)
    cast.ida = signed_in(cast.app, "ida")
    assert cast.ida.delete(f"/api/clinic/outcome-measures/{made}").status_code == 200
    assert measures(cast) == []
    assert cast.ida.delete(f"/api/clinic/outcome-measures/{made}").status_code == 404
    assert [one["id"] for one in measures(cast, f"?as_of={today.isoformat()}")] == [made]


def test_another_clinic_neither_writes_nor_takes_out(cast: Cast, today: date) -> None:
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}/outcome-measures"
    made = cast.ida.made(path, told(today))["id"]
    assert cast.teodor.post(path, told(today)).status_code == 404
    assert cast.teodor.delete(f"/api/clinic/outcome-measures/{made}").status_code == 404
    assert len(measures(cast)) == 1


def test_the_newest_with_the_one_before_stand_on_the_pages_and_in_a_letter_each_with_its_day(cast: Cast) -> None:
    limb_id = cast.anouk.limb_id
    for on, value in (("2025-08-01", 12.1), ("2025-09-10", 9.4), ("2025-07-01", 15)):
        body = {"kind": "timed_walk", "on": on, "value": value, "distance_m": 10, "device": "a stick"}
        cast.ida.made(f"/api/clinic/limbs/{limb_id}/outcome-measures", body)
    line = "9.4 s on 10 September 2025, with a stick, before that 12.1 s on 1 August 2025, with a stick"
    visit = cast.ida.get(f"/api/clinic/limbs/{limb_id}/visit-page").get_json()
    assert ["Timed walk, 10 m", line] in visit["recent"]
    payer = cast.ida.get(f"/api/clinic/limbs/{limb_id}/payer-page").get_json()
    (head,) = [one for one in payer["heads"] if one["head"] == "Measured at the clinic"]
    assert [one["text"] for one in head["lines"]] == [f"Timed walk, 10 m: {line}"]
    letter = cast.ida.get(f"/api/clinic/limbs/{limb_id}/letter-draft?kind=payer").get_json()
    assert f"Outcome measures: Timed walk, 10 m: {line}." in letter["text"] and letter["undated"] == []
    earlier = cast.ida.get(f"/api/clinic/limbs/{limb_id}/visit-page?as_of=2025-09-01").get_json()["recent"]
    assert not any(what.startswith("Timed walk") for what, _ in earlier)  # nothing of it was known by then
