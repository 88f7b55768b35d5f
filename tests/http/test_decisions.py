"""Decisions over HTTP: how it stood, what is refused, and who may decide."""

from __future__ import annotations

from typing import Any

import pytest

from tests.actors import Cast
from tests.http.anouk import DECISION, path


def test_visit_booked_with_a_decision_needs_a_visit_or_books_it(cast: Cast) -> None:
    refused = cast.ida.post(path(cast, "/decisions"), {**DECISION, "visit_booked": True})
    assert (refused.status_code, refused.get_json()["error"]["fields"]) == (
        422,
        {"visit_booked": ["Enter the visit first."]},
    )
    past = {**DECISION, "visit": {"on": "2025-09-14"}}
    assert list(cast.ida.post(path(cast, "/decisions"), past).get_json()["error"]["fields"]) == ["visit.on"]
    cast.ida.made(
        path(cast, "/decisions"), {**DECISION, "visit_booked": True, "visit": {"on": "2025-10-06", "time": "09:30"}}
    )
    (visit,) = cast.ida.get(path(cast)).get_json()["visits"]
    assert (visit["on"], visit["time"]) == ("2025-10-06", "09:30")


def test_a_decision_is_kept_with_how_it_stood_and_can_be_taken_back(cast: Cast) -> None:
    decision = cast.ida.made(path(cast, "/decisions"), DECISION)["id"]
    kept = cast.ida.get(path(cast, "/plan")).get_json()["decisions"][0]
    assert (kept["choice"], kept["by"], kept["state_then"], kept["taken_back_at"]) == (
        DECISION["choice"],
        "ida",
        "gathering",
        None,
    )
    assert cast.ida.get("/api/clinic/stock").get_json()["recasts"] == 1
    assert cast.ida.delete(f"/api/clinic/decisions/{decision}").status_code == 200
    assert cast.ida.get(path(cast, "/plan")).get_json()["decisions"][0]["taken_back_at"]
    assert cast.ida.get("/api/clinic/stock").get_json()["recasts"] == 0


@pytest.mark.parametrize(
    ("change", "field"),
    [({"choice": "hurry"}, "choice"), ({"planned_on": "2025-09-01"}, "planned_on"), ({"reasons": "x"}, "reasons")],
)
def test_a_decision_that_can_not_be_is_named(cast: Cast, change: dict[str, Any], field: str) -> None:
    answer = cast.ida.post(path(cast, "/decisions"), {**DECISION, **change})
    assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, [field])


def test_another_clinics_staff_can_not_decide(cast: Cast) -> None:
    assert cast.teodor.post(path(cast, "/decisions"), DECISION).status_code == 404
    decision = cast.ida.made(path(cast, "/decisions"), DECISION)["id"]
    assert cast.teodor.delete(f"/api/clinic/decisions/{decision}").status_code == 404


def test_an_assistant_may_read_a_plan_and_not_decide(cast: Cast) -> None:
    assert cast.juno.get(path(cast, "/plan")).status_code == 200
    refused = cast.juno.post(path(cast, "/decisions"), DECISION)
    assert (refused.status_code, refused.get_json()["error"]["code"]) == (403, "role")


def test_to_keep_the_socket_is_a_decision_and_takes_no_chair_time(cast: Cast) -> None:
    cast.ida.get("/api/clinic/worklist")
    cast.ida.made(path(cast, "/decisions"), {"on": "2025-09-15", "choice": "keep", "planned_on": "2025-11-03"})
    assert cast.ida.get(path(cast, "/plan")).get_json()["decisions"][0]["choice"] == "keep"
    assert cast.ida.get("/api/clinic/stock").get_json()["recasts"] == 0
