"""Planner, decisions, chair time, pages and settings over HTTP, and another clinic sees none of them."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

import pytest

from tests.actors import PASSWORD, Actor, Cast, Clock


def path(cast: Cast, what: str = "") -> str:
    return f"/api/clinic/limbs/{cast.anouk.limb_id}{what}"


DECISION = {
    "on": "2025-09-15",
    "choice": "diagnostic-then-definitive",
    "planned_on": "2025-10-06",
    "reasons": ["Volume"],
}


def test_a_plan_says_what_is_missing_and_leaves_the_choice(cast: Cast) -> None:
    plan = cast.ida.get(path(cast, "/plan")).get_json()
    assert plan["readiness"]["state"] == "gathering"
    assert {option["code"] for option in plan["options"]} == {"definitive-now", "diagnostic-then-definitive", "wait"}
    assert "log" in {reason["code"] for reason in plan["missing"]}
    assert {"direct", "cast", "child"} == set(plan["checklists"])


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


def test_a_planned_recast_is_in_its_week_of_chair_time(cast: Cast) -> None:
    cast.ida.get("/api/clinic/worklist")
    before = cast.ida.get("/api/clinic/chair-time").get_json()["weeks"]
    cast.ida.made(path(cast, "/decisions"), DECISION)
    after = cast.ida.get("/api/clinic/chair-time").get_json()["weeks"]
    assert len(after) == 8 and after[3]["from"] == "2025-10-06"
    assert after[3]["expected"] - before[3]["expected"] > 0.9
    assert after[3]["limbs"][0]["person"]["name"] == "Anouk"


@pytest.mark.parametrize(
    ("change", "field"),
    [({"choice": "hurry"}, "choice"), ({"planned_on": "2025-09-01"}, "planned_on"), ({"reasons": "x"}, "reasons")],
)
def test_a_decision_that_can_not_be_is_named(cast: Cast, change: dict[str, Any], field: str) -> None:
    answer = cast.ida.post(path(cast, "/decisions"), {**DECISION, **change})
    assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, [field])


@pytest.mark.parametrize("page", ["visit-page", "payer-page"])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_page_fits_one_sheet_however_long_the_record(cast: Cast, today: date, page: str, paper: str) -> None:
    for n in range(120):
        day = today - timedelta(days=n)
        skin = [{"place": "end of the limb", "finding": "blister", "redness_minutes": 40}] if n < 5 else []
        cast.anouk.sync(
            cast.anouk.checkin(
                day,
                note="A long note with “quotes” and ünïcode ☂. " * 20,
                skin=skin,
                falls=1 if n % 9 == 0 else None,
                comfort=2 if n < 7 else 8,
                hours_worn=3 if n < 7 else 12,
                weight_kg=99 if n < 3 else 80,
                stack=[{"ply": 5, "make": "single"}] * (4 if n < 4 else 1),
            )
        )
    for n in range(4):
        cast.ida.made(path(cast, "/decisions"), {**DECISION, "reasons": [f"Reason {n}. " * 12] * 3, "note": "Why. " * 300})
    answer = cast.ida.get(path(cast, f"/{page}.pdf"), query_string={"paper": paper})
    assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
    assert answer.data.startswith(b"%PDF-")
    assert len(re.findall(rb"/Type /Page\b(?!s)", answer.data)) == 1
    width = b"595.28" if paper == "a4" else b"612.00"
    assert b"/MediaBox [0 0 " + width in answer.data


def test_the_visit_page_reads_what_changed_and_what_to_ask(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today, falls=1)
    cast.anouk.sync(said)
    page = cast.ida.get(path(cast, "/visit-page")).get_json()
    assert page["who"].startswith("Anouk, 57 years")
    assert page["changed"][0] == {"text": "A fall on 15 September.", "evidence": [said["id"]]}
    assert "How did it happen? Any injury?" in page["ask"]


def test_the_payers_page_has_the_usual_heads_and_says_who_reported(cast: Cast, today: date) -> None:
    """Heads: CMS LCD L33787 wording, confirmed (secondary)."""
    cast.anouk.sync(cast.anouk.checkin(today))
    page = cast.ida.get(path(cast, "/payer-page")).get_json()
    assert [head["head"] for head in page["heads"]] == [
        "Changes in the residual limb",
        "Functional need",
        "Wear and damage",
        "Basis of this page",
    ]
    assert "patient-reported" in page["heads"][-1]["lines"][0]["text"]


def test_a_childs_growth_shows_signs_and_the_familys_visits(cast: Cast, today: date) -> None:
    said = cast.bram.checkin(today, signs=["cannot_get_fully_in"], weight_kg=24.5)
    cast.bram.sync(said)
    cast.ida.made(f"/api/clinic/people/{cast.bram.id}/visits", {"on": "2025-10-01", "what": "Review"})
    growth = cast.ida.get(f"/api/clinic/limbs/{cast.bram.limb_id}/growth").get_json()
    assert growth["child"] is True
    assert growth["signs"] == [{"date": today.isoformat(), "id": said["id"], "signs": ["cannot_get_fully_in"]}]
    assert growth["weight"] == [{"date": today.isoformat(), "kg": 24.5}]
    assert [(visit["on"], visit["person"]) for visit in growth["family_visits"]] == [("2025-10-01", "Bram")]


def test_a_threshold_is_changed_and_put_back(cast: Cast, today: date) -> None:
    skin = [{"place": "shin", "finding": "redness", "redness_minutes": 15}]
    cast.anouk.sync(cast.anouk.checkin(today, skin=skin))
    assert cast.ida.get("/api/clinic/worklist").get_json()["counts"]["call"] == 0
    changed = cast.ida.patch("/api/clinic/settings", {"thresholds": {"redness_minutes": 10}}).get_json()
    assert changed["thresholds"]["redness_minutes"] == {"value": 10, "default": 20, "low": 10, "high": 30, "own": True}
    assert cast.ida.get("/api/clinic/worklist").get_json()["counts"]["call"] == 1
    assert cast.anouk.phone.get("/api/me").get_json()["clinic"]["redness_minutes"] == 10
    back = cast.ida.patch("/api/clinic/settings", {"thresholds": {"redness_minutes": None}}).get_json()
    assert back["thresholds"]["redness_minutes"]["own"] is False


@pytest.mark.parametrize(("name", "value"), [("redness_minutes", 99), ("speed", 1)])
def test_a_threshold_that_can_not_be_is_named(cast: Cast, name: str, value: int) -> None:
    answer = cast.ida.patch("/api/clinic/settings", {"thresholds": {name: value}})
    assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, [f"thresholds.{name}"])


def test_a_suspension_switched_on_the_same_socket_keeps_its_history(cast: Cast) -> None:
    socket = cast.ida.get(path(cast)).get_json()["sockets"][0]["id"]
    cast.ida.made(f"/api/clinic/sockets/{socket}/suspensions", {"on": "2025-07-01", "suspension": "suction"})
    told = cast.ida.get(path(cast)).get_json()["sockets"][0]
    assert told["suspension"] == "suction"
    assert [(one["on"], one["suspension"]) for one in told["suspensions"]] == [("2025-07-01", "suction")]
    early = cast.ida.post(f"/api/clinic/sockets/{socket}/suspensions", {"on": "2025-01-01", "suspension": "suction"})
    assert early.status_code == 422


def test_a_snooze_ends_by_itself(cast: Cast, today: date, clock: Clock) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, falls=2))
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    signal = row["signals"][0]["id"]
    until = (today + timedelta(days=1)).isoformat()
    cast.ida.made(f"/api/clinic/signals/{signal}/snooze", {"until": until})
    listed = cast.ida.get("/api/clinic/worklist", query_string={"show": "snoozed"}).get_json()["limbs"]
    assert [one["limb_id"] for one in listed] == [cast.anouk.limb_id]
    assert listed[0]["urgency"] == 0
    clock.forward(days=1)
    session = cast.nobody.post("/api/clinic/session", {"login": "ida", "password": PASSWORD})
    ida = Actor(cast.app, {"Cookie": session.headers["Set-Cookie"].split(";")[0]})
    cast.anouk.sync(cast.anouk.checkin(today + timedelta(days=1)))
    woken = ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    assert (woken["urgency"], woken["signals"][0]["status"]) == (2, "open")
    events = ida.get(path(cast)).get_json()["signals"][0]["events"]
    assert [event["event"] for event in events] == ["opened", "snooze", "woke"]


@pytest.mark.parametrize(
    "what",
    ["/plan", "/visit-page", "/visit-page.pdf", "/payer-page", "/payer-page.pdf", "/growth", "/assessment", ""],
)
def test_another_clinics_staff_get_a_404(cast: Cast, what: str) -> None:
    assert cast.teodor.get(path(cast, what)).status_code == 404


def test_another_clinics_staff_can_not_decide(cast: Cast) -> None:
    assert cast.teodor.post(path(cast, "/decisions"), DECISION).status_code == 404
    decision = cast.ida.made(path(cast, "/decisions"), DECISION)["id"]
    assert cast.teodor.delete(f"/api/clinic/decisions/{decision}").status_code == 404


def test_an_assistant_may_read_a_plan_and_not_decide(cast: Cast) -> None:
    assert cast.juno.get(path(cast, "/plan")).status_code == 200
    refused = cast.juno.post(path(cast, "/decisions"), DECISION)
    assert (refused.status_code, refused.get_json()["error"]["code"]) == (403, "role")
