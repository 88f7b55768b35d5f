"""The recast plan over HTTP, and that another clinic sees none of it."""

from __future__ import annotations

from datetime import date

import pytest

from tests.actors import Cast
from tests.http.anouk import path


def test_a_plan_says_what_is_missing_and_leaves_the_choice(cast: Cast) -> None:
    plan = cast.ida.get(path(cast, "/plan")).get_json()
    assert plan["readiness"]["state"] == "gathering"
    assert [option["code"] for option in plan["options"]] == [
        "keep",
        "wait",
        "diagnostic-then-definitive",
        "definitive-now",
    ]
    assert "log" in {reason["code"] for reason in plan["missing"]}
    assert {"reason", "direct", "cast", "child"} == set(plan["checklists"])


def test_a_plan_asks_why_and_answers_for_the_reason_given(cast: Cast) -> None:
    plan = cast.ida.get(path(cast, "/plan")).get_json()
    assert [(one["code"], one["found"]) for one in plan["reasons_to_recast"]] == [
        ("broken", False),
        ("brim-pain", False),
        ("worn-out", False),
        ("other", False),
        ("none", True),
    ]
    assert plan["reason"]["code"] == "none"
    broken = cast.ida.get(path(cast, "/plan?reason=broken")).get_json()
    assert (broken["reason"]["code"], broken["options"][0]["code"]) == ("broken", "diagnostic-then-definitive")
    assert broken["checklists"]["reason"][0]["text"] == "What broke, and under what"
    wrong = cast.ida.get(path(cast, "/plan?reason=hurry"))
    assert (wrong.status_code, list(wrong.get_json()["error"]["fields"])) == (422, ["reason"])


def test_a_reason_the_log_shows_comes_with_its_evidence(cast: Cast, today: date) -> None:
    stack = [{"ply": 5, "make": "single"}] * 3
    said = cast.anouk.checkin(today, stack=stack)
    cast.anouk.sync(said)
    plan = cast.ida.get(path(cast, "/plan")).get_json()
    first = plan["reasons_to_recast"][0]
    assert (first["code"], first["found"], first["evidence"]) == ("stack-due", True, [said["id"]])
    assert plan["reason"]["code"] == "stack-due"


def test_each_sentence_the_plan_offers_is_taken_as_a_reason(cast: Cast, today: date) -> None:
    cast.anouk.sync(
        cast.anouk.checkin(today, skin=[{"place": "shin", "finding": "open_skin", "redness_minutes": None}])
    )
    cast.ida.made(
        path(cast, "/sockets"), {"fitted_on": "2025-08-01", "purpose": "diagnostic", "despite": {"reason": "Dry."}}
    )
    plan = cast.ida.get(path(cast, "/plan")).get_json()
    offered = [one["text"] for one in [*plan["readiness"]["reasons"], *plan["reasons_to_recast"]]]
    offered += [one["because"] for one in plan["options"]]
    offered.append(
        "For a definitive cast on 17 December: in the 30 days after the cast expect … " * 5
    )  # as long as some are
    cast.ida.made(path(cast, "/decisions"), {"on": "2025-09-15", "choice": "wait", "reasons": offered})


@pytest.mark.parametrize(
    "what",
    ["/plan", "/visit-page", "/visit-page.pdf", "/payer-page", "/payer-page.pdf", "/growth", "/assessment", ""],
)
def test_another_clinics_staff_get_a_404(cast: Cast, what: str) -> None:
    assert cast.teodor.get(path(cast, what)).status_code == 404
