"""The clinic's calls: what it enters, what it reads, and that a clinic sees its own people only."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from tests.actors import PASSWORD, Actor, Cast, Clock


def fields_of(answer: Any) -> list[str]:
    assert answer.status_code == 422, (answer.status_code, answer.get_json())
    return sorted(answer.get_json()["error"]["fields"])


def test_a_day_logged_on_a_phone_reaches_the_worklist(cast: Cast, today: date) -> None:
    skin = [{"place": "end of the limb", "finding": "open_skin", "redness_minutes": None}]
    cast.anouk.sync(cast.anouk.checkin(today, skin=skin))
    worklist = cast.ida.get("/api/clinic/worklist").get_json()
    first = worklist["limbs"][0]
    assert (first["limb_id"], first["person"]["name"]) == (cast.anouk.limb_id, "Anouk")
    assert ("skin", "urgent") in [(signal["kind"], signal["level"]) for signal in first["signals"]]
    assert first["why"] and first["state"] in ("gathering", "held")
    assert worklist["as_of"] == today.isoformat()


def test_another_clinic_sees_nothing_of_it(cast: Cast, today: date) -> None:
    cast.anouk.sync(cast.anouk.checkin(today))
    cast.ida.get("/api/clinic/worklist")
    seen = cast.teodor.get("/api/clinic/worklist").get_json()["limbs"]
    assert {row["person"]["name"] for row in seen} == {"Esme"}
    for path in (
        f"limbs/{cast.anouk.limb_id}",
        f"limbs/{cast.anouk.limb_id}/assessment",
        f"people/{cast.anouk.id}",
    ):
        answer = cast.teodor.get(f"/api/clinic/{path}")
        assert (answer.status_code, answer.get_json()["error"]["code"]) == (404, "not-found")


def test_the_story_of_a_limb_holds_what_was_written_and_by_whom(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today, stack=[{"ply": 3, "make": "single"}, {"ply": 1, "make": "single"}])
    mended = cast.anouk.checkin(today, replaces=said["id"], comfort=5)
    cast.anouk.sync(said, mended)
    story = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
    day = story["days"][0]
    assert day["date"] == today.isoformat()
    first, second = day["checkins"]
    assert (first["replaced_by"], second["replaces"]) == (mended["id"], said["id"])
    assert first["stack_mm"] == pytest.approx(1.9)  # 1.2 + 0.7 mm: Sanders 2012, single material, under load
    assert first["written_by"]["label"] == "Anouk's phone"
    assert story["sockets"][0]["purpose"] == "preparatory"


def test_a_story_replayed_holds_only_what_was_known_then(cast: Cast, today: date, clock: Clock) -> None:
    cast.anouk.sync(cast.anouk.checkin(today))
    clock.forward(days=3)
    late = cast.anouk.checkin(today - timedelta(days=1))
    cast.anouk.sync(late)
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    session = cast.nobody.post("/api/clinic/session", {"login": "ida", "password": PASSWORD})
    ida = Actor(cast.app, {"Cookie": session.headers["Set-Cookie"].split(";")[0]})
    now = ida.get(path).get_json()
    then = ida.get(path, query_string={"as_of": today.isoformat()}).get_json()
    assert [len(story["days"]) for story in (now, then)] == [2, 1]


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


def test_a_measurement_shows_its_volume_and_the_tapes_own_error(cast: Cast) -> None:
    """Facts T4: levels 34, 33, 31, 28, 24 cm every 4 cm are 1176.16 mL (truncated cones)."""
    levels = [{"from_end_mm": 40 * n, "circumference_mm": 10 * c} for n, c in enumerate((24, 28, 31, 33, 34))]
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    cast.ida.made(f"{path}/measurements", {"on": "2025-06-01", "levels": levels})
    measured = cast.ida.get(path).get_json()["measurements"][0]
    assert measured["volume_ml"] == pytest.approx(1176.16, abs=0.1)
    assert measured["volume_error_ml"] > 5


def test_the_worklist_is_paged_without_a_gap_or_a_double(cast: Cast) -> None:
    seen: list[str] = []
    onward = None
    while True:
        query = {"limit": "1", **({"next": onward} if onward else {})}
        answer = cast.ida.get("/api/clinic/worklist", query_string=query).get_json()
        seen += [row["limb_id"] for row in answer["limbs"]]
        onward = answer["next"]
        if onward is None:
            break
    assert sorted(seen) == sorted([*cast.anouk.limb_ids, *cast.bram.limb_ids, *cast.dov.limb_ids])


@pytest.mark.parametrize(
    ("name", "value"), [("limit", "0"), ("limit", "x"), ("state", "fine"), ("next", "{}")]
)
def test_a_question_the_worklist_can_not_read_is_named(cast: Cast, name: str, value: str) -> None:
    assert fields_of(cast.ida.get("/api/clinic/worklist", query_string={name: value})) == [name]


def test_a_signal_is_acknowledged_closed_and_the_life_of_it_kept(cast: Cast, today: date) -> None:
    skin = [{"place": "end of the limb", "finding": "blister", "redness_minutes": None}]
    cast.anouk.sync(cast.anouk.checkin(today, skin=skin))
    row = cast.ida.get("/api/clinic/worklist").get_json()["limbs"][0]
    signal = next(one for one in row["signals"] if one["kind"] == "skin")
    path = f"/api/clinic/signals/{signal['id']}"
    assert cast.ida.made(f"{path}/acknowledge", {"note": "called"})["status"] == "acknowledged"
    assert fields_of(cast.ida.post(f"{path}/close", {})) == ["outcome"]
    assert cast.ida.made(f"{path}/close", {"outcome": "seen today"})["status"] == "closed"
    undone = cast.ida.made(f"{path}/undo", {})
    assert undone["status"] == "acknowledged"
    assert [event["event"] for event in undone["events"]] == ["opened", "acknowledge", "close", "undo"]
    assert cast.teodor.post(f"{path}/acknowledge", {}).status_code == 404


def test_a_closed_matter_stays_closed_and_an_unseen_one_stays_open(cast: Cast, today: date) -> None:
    skin = [{"place": "end of the limb", "finding": "blister", "redness_minutes": None}]
    said = cast.anouk.checkin(today, skin=skin)
    cast.anouk.sync(said)
    path = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    cast.ida.get("/api/clinic/worklist")
    cast.anouk.sync(cast.anouk.checkin(today, replaces=said["id"]))
    cast.ida.get("/api/clinic/worklist")
    signal = next(one for one in cast.ida.get(path).get_json()["signals"] if one["kind"] == "skin")
    assert (signal["status"], signal["holds"]) == ("open", False)
    assert [event["event"] for event in signal["events"]] == ["opened", "no-longer-seen"]


@pytest.mark.parametrize("path", ["/api/nothing", "/nothing", "/phone/../../etc/passwd", "/shared/%00"])
def test_an_unknown_address_is_a_404_in_our_shape_without_html(cast: Cast, path: str) -> None:
    answer = cast.nobody.get(path)
    assert answer.status_code == 404
    assert answer.get_json()["error"]["message"]
    assert b"<" not in answer.data


def test_every_answer_carries_the_security_headers(cast: Cast) -> None:
    for path in ("/api/me", "/nothing", "/phone/sw.js"):
        headers = cast.nobody.get(path).headers
        assert "script-src 'self'" in headers["Content-Security-Policy"]
        assert "unsafe" not in headers["Content-Security-Policy"]
        assert headers["X-Content-Type-Options"] == "nosniff"


def test_the_worklists_counts_are_those_of_its_rows(cast: Cast, today: date) -> None:
    skin = [{"place": "shin", "finding": "blister", "redness_minutes": None}]
    cast.anouk.sync(cast.anouk.checkin(today, skin=skin))
    cast.bram.sync(cast.bram.checkin(today, falls=1))
    for closed in (False, True):
        worklist = cast.ida.get("/api/clinic/worklist").get_json()
        urgencies = [row["urgency"] for row in worklist["limbs"]]
        names = ("quiet", "note", "call", "urgent")
        assert worklist["counts"] == {name: urgencies.count(n) for n, name in enumerate(names)}
        if not closed:
            signal = worklist["limbs"][0]["signals"][0]["id"]
            cast.ida.made(f"/api/clinic/signals/{signal}/close", {"outcome": "seen"})
