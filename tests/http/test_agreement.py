"""The clinic's physician agrees to the safety rules before use: who, when, to which; no rule is hidden for it."""

from __future__ import annotations

import copy
import json
from datetime import date

import pytest

from plytide.engine import rules, safety
from plytide.storage import agreement as agreements
from plytide.storage.clinics import open_clinic
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import DatabaseError, write
from tests.actors import Cast, Clock, fields_of
from tests.conftest import NOON

RULES, AGREE = "/api/clinic/safety-rules", "/api/clinic/safety-rules/agreements"


def db_of(cast: Cast):
    data = cast.app.config["SETTINGS"].data_dir
    registry = Registry(data)
    whose = registry.whose_login("nora")
    assert whose
    return open_clinic(data, registry, whose[0])


def sources() -> dict[str, dict[str, str]]:
    """By rule: whoever agreed had its source and status before their eyes."""
    found: dict[str, dict[str, str]] = json.loads(safety.SOURCES_FILE.read_text())
    return found


def test_every_rule_is_shown_with_its_words_its_source_and_what_sets_it_off(cast: Cast) -> None:
    found = cast.juno.get(RULES).get_json()
    assert [one["id"] for one in found["rules"]] == [rule["id"] for rule in safety.rules()]
    for one, rule in zip(found["rules"], safety.rules(), strict=True):
        assert (one["title"], one["do"]) == (rule["text"]["en"]["title"], rule["text"]["en"]["do"])
        assert one["source"] and one["status"] and one["when"]
        assert "{" not in one["when"] and "_" not in one["when"], one["when"]
    assert found["danger_signs"] == list(safety.danger_signs())
    assert (found["state"], found["agreements"]) == ("never", [])


def test_who_agreed_and_who_recorded_it_is_kept_with_the_rules_as_they_were(cast: Cast, clock: Clock) -> None:
    mark = cast.nora.get(RULES).get_json()["sha256"]
    made = cast.nora.made(AGREE, {"physician": " Dr Ilse Wren ", "sha256": mark})
    (one,) = made["agreements"]
    assert (made["state"], one["physician"], one["by"], one["sha256"]) == ("agreed", "Dr Ilse Wren", "nora", mark)
    assert one["agreed_at"] == NOON.isoformat()
    assert agreements.newest_rules(db_of(cast)) == {
        "danger_signs": list(safety.danger_signs()),
        "rules": json.loads(json.dumps([rule | sources()[rule["id"]] for rule in safety.rules()])),
    }
    assert [one["what"] for one in cast.nora.get("/api/clinic/audit").get_json()["lines"]].count("rules.agree") == 1
    assert cast.teodor.get(RULES).get_json()["state"] == "never"  # each clinic for itself


@pytest.mark.parametrize(
    ("given", "field"),
    [({"physician": " "}, "physician"), ({}, "physician"), ({"physician": "Dr Wren", "sha256": "0" * 64}, "sha256")],
)
def test_nobody_agrees_without_a_name_or_to_other_rules_than_were_shown(
    cast: Cast, given: dict[str, str], field: str
) -> None:
    body = {"sha256": cast.nora.get(RULES).get_json()["sha256"], **given}
    assert fields_of(cast.nora.post(AGREE, body)) == [field]
    assert cast.juno.post(AGREE, {**body, "physician": "Dr Wren"}).status_code == 403


def test_when_the_file_changes_the_page_says_so_and_names_the_rules(cast: Cast) -> None:
    """The agreement is to the rules of an earlier version: one had other words, one was not there, one is gone."""
    before = copy.deepcopy(rules.kept())
    before["rules"][0]["text"]["en"]["do"] = "Sit down."
    new = before["rules"].pop(1)["id"]
    before["rules"].append({**before["rules"][2], "id": "given-up"})
    with write(db_of(cast)) as db:
        agreements.add(db, "Dr Ilse Wren", before, rules.mark(before["danger_signs"], before["rules"]), "x", NOON)
    found = cast.ida.get(RULES).get_json()
    assert found["state"] == "changed"
    assert set(found["changed"]) == {before["rules"][0]["id"], new, "given-up"}
    assert cast.ida.get("/api/clinic/worklist").get_json()["rules_agreement"] == "changed"
    cast.ida.made(AGREE, {"physician": "Dr Ilse Wren", "sha256": found["sha256"]})
    assert cast.ida.get("/api/clinic/worklist").get_json()["rules_agreement"] == "agreed"
    assert cast.ida.get(RULES).get_json()["changed"] == []


def test_an_agreement_can_not_be_changed_or_taken_out(cast: Cast) -> None:
    with write(db_of(cast)) as db:
        agreements.add(db, "Dr Ilse Wren", rules.kept(), rules.current_mark(), "x", NOON)
    for statement in ("UPDATE rules_agreement SET physician = 'Dr Other'", "DELETE FROM rules_agreement"):
        with pytest.raises(DatabaseError, match="append-only"), write(db_of(cast)) as db:
            db.conn.execute(statement)


def test_not_agreed_hides_nothing_from_phone_or_clinic(cast: Cast, today: date) -> None:
    cast.anouk.sync(cast.anouk.checkin(today, signs=["cold_pale_limb"]))
    worklist = cast.ida.get("/api/clinic/worklist").get_json()
    assert worklist["rules_agreement"] == "never"
    assert worklist["limbs"][0]["signals"][0]["rule"] == "emergency-cold-limb"


def test_it_is_in_what_a_person_can_take_home(cast: Cast) -> None:
    cast.nora.made(AGREE, {"physician": "Dr Ilse Wren", "sha256": rules.current_mark()})
    path = f"/api/clinic/people/{cast.anouk.id}/export"
    (one,) = json.loads(cast.nora.get(f"{path}.json").data)["rules_agreed"]
    assert (one["physician"], one["by_staff"]) == ("Dr Ilse Wren", "nora")
    assert "Dr Ilse Wren" in cast.nora.get(f"{path}.html").get_data(as_text=True)
