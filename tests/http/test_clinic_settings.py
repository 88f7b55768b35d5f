"""The clinic’s settings: hours and numbers that wearers call, each person’s teams, thresholds; refused by field."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.actors import Cast, fields_of, plytide

WEEK = {"days": [1, 2, 3, 4], "from": "08:00", "to": "12:00"}


def test_what_the_clinic_enters_is_on_the_phone(cast: Cast) -> None:
    hours = [WEEK, {"days": [1, 2], "from": "13:00", "to": "17:30"}]
    given = {
        "phone": "01632 960173", "out_of_hours_phone": "+44 (0)1632 960.174", "emergency_number": "999",
        "hours": hours, "zone": "Europe/London", "closed_on": ["2025-12-25", "2025-12-26"],
    }  # fmt: skip
    kept = cast.nora.patch("/api/clinic/settings", given)
    assert kept.status_code == 200, kept.get_json()
    clinic = cast.anouk.phone.get("/api/me").get_json()["clinic"]
    assert clinic["contact"] == given
    assert (clinic["phone"], clinic["emergency_number"]) == ("01632 960173", "999")  # where an old phone looks
    assert {name: cast.ida.get("/api/clinic/settings").get_json()[name] for name in given} == given


def test_a_clinic_that_entered_nothing_gives_its_phones_a_contact_all_the_same(cast: Cast) -> None:
    assert cast.esme.phone.get("/api/me").get_json()["clinic"]["contact"] == {
        "phone": None, "hours": [], "zone": None, "closed_on": [], "out_of_hours_phone": None,
        "emergency_number": "112",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"phone": "call Ida"}, "phone", "not “c”"),
        ({"phone": "12"}, "phone", "at least 3 digits"),
        ({"phone": "+-()"}, "phone", "at least 3 digits"),
        ({"out_of_hours_phone": "٠١٦٣٢"}, "out_of_hours_phone", "can hold digits"),
        ({"emergency_number": None}, "emergency_number", "can't be empty"),
        ({"emergency_number": "help"}, "emergency_number", "can hold digits"),
        ({"emergency_number": "112/999"}, "emergency_number", "not two"),
        ({"emergency_number": "112 999"}, "emergency_number", "not two"),
        ({"zone": "Europe/Nowhere"}, "zone", "time zone such as"),
        ({"zone": "../etc/passwd"}, "zone", "time zone such as"),
        ({"closed_on": ["soon"]}, "closed_on[0]", "a date such as"),
        ({"hours": [{**WEEK, "days": [0]}]}, "hours[0].days[0]", "from 1 to 7"),
        ({"hours": [{"from": "09:00", "to": "17:00"}]}, "hours[0].days", "needed"),
        ({"hours": [{**WEEK, "days": []}]}, "hours[0].days", "at least one day"),
        ({"hours": [{**WEEK, "days": [1, 1]}]}, "hours[0].days", "named twice"),
        ({"hours": [{**WEEK, "to": "08:00"}]}, "hours[0].to", "later than when it opens"),
        ({"hours": [{**WEEK, "from": "8"}]}, "hours[0].from", "a time such as"),
        ({"hours": [WEEK, {**WEEK, "from": "11:00", "days": [4]}]}, "hours[1].from", "overlap"),
    ],
)
def test_what_can_not_be_is_refused_by_field_in_plain_words(
    cast: Cast, given: dict[str, Any], field: str, words: str
) -> None:
    answer = cast.nora.patch("/api/clinic/settings", given)
    assert fields_of(answer) == [field]
    assert words in answer.get_json()["error"]["fields"][field][0]


def test_each_person_has_teams_of_their_own(cast: Cast) -> None:
    path = f"/api/clinic/people/{cast.anouk.id}"
    given = {"heart_team_phone": "01632 960401", "kidney_team_phone": "01632 960402"}
    assert cast.ida.patch(path, given).status_code == 200
    assert given.items() <= cast.ida.get(path).get_json().items()
    (person,) = cast.anouk.phone.get("/api/me").get_json()["people"]
    assert person["contacts"] == given
    changes = cast.anouk.sync().get_json()["changes"]
    assert [one["contacts"] for one in changes if one["type"] == "person"] == [given]
    (other,) = cast.bram.phone.get("/api/me").get_json()["people"]
    assert other["contacts"] == {"heart_team_phone": None, "kidney_team_phone": None}
    assert fields_of(cast.ida.patch(path, {"heart_team_phone": "ask"})) == ["heart_team_phone"]
    assert cast.ida.patch(path, {"heart_team_phone": None}).status_code == 200


@pytest.mark.parametrize(
    ("option", "given"), [("--phone", "call me"), ("--emergency-number", "help"), ("--emergency-number", "112/999")]
)
def test_a_clinic_is_not_founded_with_a_number_nobody_can_dial(tmp_path: Path, option: str, given: str) -> None:
    named = ("--clinic", "Sallow Clinic", "--login", "ida", option, given)
    made = plytide("init", "--data", str(tmp_path / "data"), *named, PLYTIDE_PASSWORD="a long walk by the water")
    assert made.returncode != 0 and option in made.stderr
    assert not (tmp_path / "data" / "registry.db").exists()


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
