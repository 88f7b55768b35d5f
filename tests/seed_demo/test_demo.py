"""`plytide demo`: ready in time, says where to go, and the clinic finds what the stories hold."""

from __future__ import annotations

import json
import urllib.request
from typing import Any

import pytest

from seed_demo.stories import Story, cast
from tests.actors import Demo, plytide


def asked(demo: Demo, path: str, headers: dict[str, str]) -> Any:
    request = urllib.request.Request(demo.url + path, headers=headers)
    with urllib.request.urlopen(request, timeout=120) as answer:
        return json.load(answer)


def worklist(demo: Demo) -> list[dict[str, Any]]:
    headers = {"Cookie": demo.about["staff_session"]["cookie"]}
    rows: list[dict[str, Any]] = []
    after = ""
    while True:
        page = asked(demo, f"/api/clinic/worklist?show=all&limit=50{after}", headers)
        rows += page["limbs"]
        if page["next"] is None:
            return rows
        after = f"&next={page['next']}"


@pytest.fixture(scope="module")
def rows(demo: Demo) -> list[dict[str, Any]]:
    return worklist(demo)


@pytest.fixture(scope="module")
def stories(demo: Demo) -> list[Story]:
    return cast(30, 120, 1, demo.on)


def row_of(rows: list[dict[str, Any]], name: str) -> dict[str, Any]:
    return next(row for row in rows if row["person"]["name"].startswith(name))


def test_the_first_line_says_where_to_go(demo):
    assert set(demo.about) >= {"url", "clinic", "staff_session", "phones"}
    assert set(demo.about["clinic"]) == {"login", "password"}
    assert all(set(phone) == {"person_id", "limb_ids", "token", "role"} for phone in demo.about["phones"])
    assert {phone["role"] for phone in demo.about["phones"]} == {"wearer", "caregiver"}


def test_each_phone_may_see_its_own_person(demo):
    for phone in demo.about["phones"]:
        me = asked(demo, "/api/me", {"Authorization": f"Bearer {phone['token']}"})
        (person,) = [one for one in me["people"] if one["id"] == phone["person_id"]]
        assert [limb["id"] for limb in person["limbs"]] == phone["limb_ids"]


def test_the_worklist_has_every_limb_and_a_reason_on_each_row(rows, stories):
    assert len(rows) == sum(len(story.limbs) for story in stories)
    assert all(row["why"] and row["state"] for row in rows)


def test_what_a_prosthetist_would_want_to_know_is_on_the_worklist(rows, stories):
    missing = []
    for story in stories:
        for limb in story.limbs:
            row = next(
                row
                for row in rows
                if row["person"]["name"] == story.person["name"] and row["side"] == limb.limb["side"]
            )
            kinds = {signal["kind"] for signal in row["signals"]}
            missing += [(story.person["name"], kind) for kind in limb.truth.expect if kind not in kinds]
    assert missing == []


def test_a_blister_comes_before_everything_quiet(rows):
    names = [row["person"]["name"].split()[0] for row in rows]
    assert names.index("Imani") < names.index("Leif")
    assert any(signal["level"] == "urgent" for signal in row_of(rows, "Imani")["signals"])


def test_what_was_found_on_the_skin_is_there_as_drawn_photos_with_their_dates(demo, rows):
    headers = {"Cookie": demo.about["staff_session"]["cookie"]}
    limb_id = row_of(rows, "Imani")["limb_id"]
    photos = asked(demo, f"/api/clinic/limbs/{limb_id}/photos", headers)["photos"]
    assert len(photos) >= 3
    request = urllib.request.Request(f"{demo.url}/api/clinic/photos/{photos[0]['id']}", headers=headers)
    with urllib.request.urlopen(request, timeout=120) as seen:
        assert seen.headers["Content-Type"] == "image/jpeg" and len(seen.read()) > 2000


def test_no_one_is_called_steady_who_is_not(rows, stories):
    for story in stories:
        for limb in story.limbs:
            if abs(limb.truth.coming_28d_mm) > 0.7:
                row = row_of(rows, story.person["name"])
                assert row["side"] != limb.limb["side"] or row["state"] != "steady", story.person["name"]


def test_a_demo_of_nobody_is_refused():
    done = plytide("demo", "--people", "0")
    assert done.returncode == 2 and "--people" in done.stderr
