"""A place of skin at the clinic: sizes, healed on, opened again, a mistake taken out; and the wearer's own course."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from plytide.storage.sqlite import IntegrityError
from tests.actors import Cast, Json
from tests.conftest import TODAY
from tests.http.test_contact import story
from tests.http.test_pocket import refused
from tests.http.test_signals import clinic_file

PLACE = "limb_end"
BLISTER = [{"place": PLACE, "finding": "blister"}]
DAY = TODAY.isoformat()
BEFORE = TODAY - timedelta(days=2)


@pytest.fixture
def found(cast: Cast) -> Cast:
    """Anouk found a blister two days ago."""
    log = cast.anouk.checkin(BEFORE, skin=BLISTER, skin_checked=True)
    assert cast.anouk.sync(log).get_json()["receipts"][0]["status"] == "kept"
    return cast


def write(cast: Cast, **said: Any) -> Any:
    return cast.ida.post(f"/api/clinic/limbs/{cast.anouk.limb_id}/healing", {"place": PLACE, "on": DAY} | said)


def written(cast: Cast, **said: Any) -> str:
    answer = write(cast, **said)
    assert answer.status_code == 201, answer.get_json()
    return str(answer.get_json()["id"])


def stands(cast: Cast) -> list[Json]:
    rows: list[Json] = story(cast, cast.anouk)["healing"]
    return rows


def test_sizes_and_the_day_it_healed_stand_with_who_wrote_them(found: Cast):
    written(found, what="size", length_mm=12, width_mm=8.5, note=" by the ruler ")
    written(found, what="healed")
    size, healed = stands(found)
    assert (size["what"], size["length_mm"], size["width_mm"], size["note"], size["by"], size["on"]) == (
        "size", 12, 8.5, "by the ruler", "ida", DAY,
    )  # fmt: skip
    assert (healed["what"], healed["length_mm"]) == ("healed", None)


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"what": "size"}, "length_mm"),
        ({"what": "size", "length_mm": 0}, "length_mm"),
        ({"what": "size", "length_mm": 501}, "length_mm"),
        ({"what": "healed", "length_mm": 3}, "length_mm"),
        ({"what": "healed", "on": (TODAY + timedelta(days=1)).isoformat()}, "on"),
        ({"what": "healed", "on": (BEFORE - timedelta(days=1)).isoformat()}, "on"),
        ({"what": "healed", "place": "calf"}, "place"),
        ({"what": "open"}, "place"),
        ({"what": "worse"}, "what"),
        ({"what": "size", "length_mm": 3, "note": "x" * 301}, "note"),
    ],
)
def test_what_can_not_be_is_refused_by_field(found: Cast, said: Json, field: str):
    assert list(refused(write(found, **said))) == [field]
    assert stands(found) == []


def test_healed_opened_again_and_healed(found: Cast):
    for what in ("healed", "open", "healed"):
        written(found, what=what)
    assert [one["what"] for one in stands(found)] == ["healed", "open", "healed"]


def test_a_mistake_is_taken_out_and_stays_in_the_file(found: Cast):
    wrong = written(found, what="healed")
    assert found.ida.delete(f"/api/clinic/healing/{wrong}").status_code == 200
    assert stands(found) == []
    assert found.ida.delete(f"/api/clinic/healing/{wrong}").status_code == 404
    assert list(refused(write(found, what="open"))) == ["place"]  # it was never healed
    with clinic_file(found) as db, pytest.raises(IntegrityError, match="append-only"):
        db.conn.execute("DELETE FROM healing")


def test_a_replay_knows_what_was_written_by_then(found: Cast):
    written(found, what="healed")
    then = found.ida.get(f"/api/clinic/limbs/{found.anouk.limb_id}?as_of={BEFORE.isoformat()}").get_json()
    assert then["healing"] == []


def test_another_clinic_writes_nothing_here(found: Cast):
    row = written(found, what="size", length_mm=4)
    assert found.teodor.delete(f"/api/clinic/healing/{row}").status_code == 404
    body = {"place": PLACE, "on": DAY, "what": "healed"}
    assert found.teodor.post(f"/api/clinic/limbs/{found.anouk.limb_id}/healing", body).status_code == 404


def test_the_wearers_course_goes_with_the_entry_and_comes_back(found: Cast):
    course = [{"place": PLACE, "course": "worse"}]
    log = found.anouk.checkin(TODAY, skin=BLISTER, skin_checked=True, healing=course)
    kept = found.anouk.sync(log).get_json()
    assert kept["receipts"][0]["status"] == "kept"
    assert found.anouk.sync(log).get_json()["receipts"][0]["status"] == "already"
    told = [one for one in kept["changes"] if one.get("id") == log["id"]]
    assert told[0]["healing"] == course
    shown = [one for day in story(found, found.anouk)["days"] for one in day["checkins"]]
    assert next(one for one in shown if one["id"] == log["id"])["healing"] == course
    wrong = found.anouk.checkin(TODAY, healing=[{"place": PLACE, "course": "fine"}])
    receipt = found.anouk.sync(wrong).get_json()["receipts"][0]
    assert (receipt["status"], list(receipt["errors"])) == ("refused", ["healing[0].course"])


def test_whether_the_socket_was_left_off_is_in_the_story(found: Cast):
    log = found.anouk.checkin(TODAY, left_off="no")
    assert found.anouk.sync(log).get_json()["receipts"][0]["status"] == "kept"
    shown = [one for day in story(found, found.anouk)["days"] for one in day["checkins"]]
    assert {one["id"]: one["left_off"] for one in shown}[log["id"]] == "no"
    wrong = found.anouk.checkin(TODAY, left_off="maybe")
    assert list(found.anouk.sync(wrong).get_json()["receipts"][0]["errors"]) == ["left_off"]


def test_a_course_changes_no_alarm(found: Cast):
    """The rules read what was found, whatever the course: "better" does not soften a blister."""
    log = found.anouk.checkin(TODAY, skin=BLISTER, skin_checked=True, healing=[{"place": PLACE, "course": "better"}])
    found.anouk.sync(log)
    found.ida.get("/api/clinic/worklist")
    urgent = [one for one in story(found, found.anouk)["signals"] if one["rule"] == "stop-wear-skin"]
    assert [log["id"] in one["evidence"] for one in urgent] == [True]


def test_healed_is_said_once_until_it_is_open_or_found_again(found: Cast):
    written(found, what="healed", on=(TODAY - timedelta(days=1)).isoformat())
    assert refused(write(found, what="healed")) == {"place": ["It healed already. Say first that it is open again."]}
    written(found, what="open")
    assert list(refused(write(found, what="open"))) == ["place"]
    written(found, what="healed", on=(TODAY - timedelta(days=1)).isoformat())
    found.anouk.sync(found.anouk.checkin(TODAY, skin=BLISTER, skin_checked=True))
    assert list(refused(write(found, what="open"))) == ["place"]  # found since: it is
    written(found, what="healed")


def test_said_to_be_there_still_it_is_open(found: Cast):
    written(found, what="healed", on=BEFORE.isoformat())
    worse = found.anouk.checkin(TODAY, skin=[], skin_checked=True, healing=[{"place": PLACE, "course": "worse"}])
    found.anouk.sync(worse)
    written(found, what="healed")


def test_a_size_is_of_no_day_before_the_place_was_found_or_the_limb_was(found: Cast):
    size = {"what": "size", "length_mm": 4}
    first = (BEFORE - timedelta(days=1)).isoformat()
    assert refused(write(found, on=first, **size)) == {"on": ["It was first found after this day."]}
    with clinic_file(found) as db:
        limb = db.conn.execute("SELECT amputated_on FROM limb WHERE id = ?", (found.anouk.limb_id,)).fetchone()
    assert limb[0]
    before = (date.fromisoformat(limb[0]) - timedelta(days=1)).isoformat()
    assert refused(write(found, on=before, **size)) == {"on": ["This day is before the amputation."]}
    written(found, on=BEFORE.isoformat(), **size)


def test_of_a_place_that_no_entry_names_any_more_nothing_is_written_and_what_was_stays(found: Cast):
    row = written(found, what="size", length_mm=4)
    log = story(found, found.anouk)["days"][0]["checkins"][0]
    fine = found.anouk.checkin(date.fromisoformat(log["date"]), skin=[], skin_checked=True, replaces=log["id"])
    assert found.anouk.sync(fine).get_json()["receipts"][0]["status"] == "kept"
    assert refused(write(found, what="healed")) == {"place": ["Nothing was found here."]}
    assert [one["id"] for one in stands(found)] == [row]
