"""A limb as FHIR R4: valid by an outside library, true to what was written, and no standard code we can't vouch for."""

from __future__ import annotations

import json
import re
import warnings
from typing import Any

import pytest

from tests.actors import Cast
from tests.conftest import TODAY

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the library's own imports
    from fhir.resources.R4B.bundle import Bundle

#: Codes of LOINC and SNOMED CT that were confirmed, each with where. Any other would be a guess.
CONFIRMED = {
    ("http://loinc.org", "29463-7"),  # body weight: FHIR R4 vital-signs profile
    ("http://loinc.org", "72514-3"),  # pain 0-10: build.fhir.org/ig/hl7-be/patient-monitoring/ValueSet-pain-scale.html
    # build.fhir.org/ig/hl7-eu/hdr/ValueSet-circumference-observation-vs.html
    ("http://snomed.info/sct", "413171006"),
    ("http://terminology.hl7.org/CodeSystem/observation-category", "vital-signs"),
}
OWN = "https://plytide.example/fhir/CodeSystem/plytide"


@pytest.fixture
def made(cast: Cast) -> dict[str, Any]:
    anouk = cast.anouk
    first = anouk.checkin(TODAY, pain=0, weight_kg=71.5, hours_worn=9, time="07:40", offset="+02:00", falls=1)
    second = anouk.checkin(TODAY, replaces=first["id"], comfort=4, pain=None, note="It was 4: I slipped.")
    gone = anouk.checkin(TODAY, withdrawn=True)
    strange = anouk.checkin(TODAY, id="odd_id:with.marks", stack=[], pain=3, weight_kg=71)
    assert {r["status"] for r in anouk.sync(first, second, gone, strange).get_json()["receipts"]} == {"kept"}
    levels = [
        {"from_end_mm": 40, "circumference_mm": 301.5, "name": "mid"},
        {"from_end_mm": 0, "circumference_mm": 250},
        {"from_end_mm": 80.5, "circumference_mm": 310},
    ]
    tape = {"on": TODAY.isoformat(), "levels": levels, "measured_by": "Ida Thornquist"}
    cast.ida.made(f"/api/clinic/limbs/{anouk.limb_id}/measurements", {**tape, "weight_kg": 72})
    answer = cast.ida.get(f"/api/clinic/limbs/{anouk.limb_id}/bundle.fhir.json")
    assert answer.headers.getlist("Content-Type") == ["application/fhir+json"]
    return {"json": json.loads(answer.get_data()), "first": first, "second": second, "gone": gone}


def all_of(bundle: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    return [entry["resource"] for entry in bundle["entry"] if entry["resource"]["resourceType"] == kind]


def codings(node: Any) -> list[tuple[str, str]]:
    if isinstance(node, dict):
        own = [(node["system"], node["code"])] if {"system", "code"} <= node.keys() and "value" not in node else []
        return own + [one for value in node.values() for one in codings(value)]
    return [one for value in node for one in codings(value)] if isinstance(node, list) else []


def test_an_outside_library_reads_it_whole_and_writes_it_back_the_same(made: dict[str, Any]) -> None:
    read = Bundle.model_validate(made["json"])
    again = json.loads(read.model_dump_json())
    assert len(again["entry"]) == len(made["json"]["entry"]) > 15
    for kind in ("Patient", "BodyStructure", "QuestionnaireResponse", "Observation"):
        assert all_of(again, kind) == all_of(made["json"], kind)


def test_a_broken_bundle_would_be_found(made: dict[str, Any]) -> None:
    all_of(made["json"], "Observation")[0]["status"] = 7
    with pytest.raises(ValueError):
        Bundle.model_validate(made["json"])


def test_only_confirmed_codes_are_marked_as_a_standards_and_ours_are_documented(made: dict[str, Any]) -> None:
    used = {coding for coding in codings(made["json"]) if coding[0] != OWN}
    assert {system for system, _ in used} <= {system for system, _ in CONFIRMED}
    assert used == CONFIRMED
    documented = {concept["code"] for concept in all_of(made["json"], "CodeSystem")[0]["concept"]}
    assert {code for system, code in codings(made["json"]) if system == OWN} <= documented


def test_every_reference_leads_to_something_in_the_bundle(made: dict[str, Any]) -> None:
    here = {f"{one['resource']['resourceType']}/{one['resource']['id']}" for one in made["json"]["entry"]}
    text = json.dumps(made["json"])
    named = {part.split('"')[0] for part in text.split('"reference": "')[1:]}
    assert named and named <= here
    assert len(here) == len(made["json"]["entry"])


def test_each_check_in_is_a_response_and_only_what_stands_is_observed(made: dict[str, Any]) -> None:
    status = {one["id"]: one["status"] for one in all_of(made["json"], "QuestionnaireResponse")}
    assert status[made["first"]["id"]] == "entered-in-error"
    assert status[made["second"]["id"]] == "amended"
    assert status[made["gone"]["id"]] == "entered-in-error"
    assert len(status) == 4
    sources = {
        one["derivedFrom"][0]["reference"] for one in all_of(made["json"], "Observation") if "derivedFrom" in one
    }
    assert f"QuestionnaireResponse/{made['second']['id']}" in sources
    assert f"QuestionnaireResponse/{made['first']['id']}" not in sources


def test_an_answer_not_given_is_left_out_and_a_zero_is_kept(cast: Cast) -> None:
    anouk = cast.anouk
    assert anouk.sync(anouk.checkin(TODAY, pain=0), anouk.checkin(TODAY)).status_code == 200
    bundle = json.loads(cast.ida.get(f"/api/clinic/limbs/{anouk.limb_id}/bundle.fhir.json").get_data())
    answers = [
        {item["linkId"]: item["answer"][0] for item in one["item"]} for one in all_of(bundle, "QuestionnaireResponse")
    ]
    assert [answer.get("pain") for answer in answers] == [{"valueInteger": 0}, None]
    pains = [one for one in all_of(bundle, "Observation") if one["code"]["coding"][0]["code"] == "pain"]
    assert [one["valueQuantity"]["value"] for one in pains] == [0]


def test_a_caregivers_words_are_a_caregivers(cast: Cast) -> None:
    bram = cast.bram
    assert bram.sync(bram.checkin(TODAY)).status_code == 200
    bundle = json.loads(cast.ida.get(f"/api/clinic/limbs/{bram.limb_id}/bundle.fhir.json").get_data())
    Bundle.model_validate(bundle)
    assert all_of(bundle, "QuestionnaireResponse")[0]["author"]["reference"].startswith("RelatedPerson/")


def test_another_limb_of_the_person_stays_out(cast: Cast) -> None:
    dov = cast.dov
    other = {**dov.checkin(TODAY), "limb_id": dov.limb_ids[1], "note": "the other leg"}
    assert dov.sync(dov.checkin(TODAY), other).status_code == 200
    bundle = cast.ida.get(f"/api/clinic/limbs/{dov.limb_id}/bundle.fhir.json").get_data(as_text=True)
    assert "the other leg" not in bundle and dov.limb_ids[1] not in bundle


def test_a_response_says_of_whom_and_of_which_limb_it_is(made: dict[str, Any], cast: Cast) -> None:
    form = all_of(made["json"], "Questionnaire")[0]
    assert {"linkId": "limb", "type": "reference"}.items() <= form["item"][0].items()
    for one in all_of(made["json"], "QuestionnaireResponse"):
        assert one["subject"] == {"reference": f"Patient/{cast.anouk.id}"}
        limb = next(item for item in one["item"] if item["linkId"] == "limb")
        assert limb["answer"] == [{"valueReference": {"reference": f"BodyStructure/{cast.anouk.limb_id}"}}]
        assert one["questionnaire"] == f"{form['url']}|{form['version']}"
        assert {item["linkId"] for item in one["item"]} <= {item["linkId"] for item in form["item"]}


def test_a_tape_is_a_panel_whose_members_differ_by_code(made: dict[str, Any]) -> None:
    by_id = {one["id"]: one for one in all_of(made["json"], "Observation")}
    panel = next(one for one in by_id.values() if "hasMember" in one)
    assert panel["code"]["coding"][0] == {
        "system": OWN, "code": "tape-panel", "display": "Circumferences of the limb by tape, taken together",
    }  # fmt: skip
    assert not [key for key in panel if key.startswith("value")]
    members = [by_id[one["reference"].removeprefix("Observation/")] for one in panel["hasMember"]]
    assert [(one["code"]["coding"][0]["code"], one["valueQuantity"]["value"]) for one in members] == [
        ("circumference-40-mm-above-end", 301.5),
        ("circumference-at-end", 250),
        ("circumference-80.5-mm-above-end", 310),
    ]
    assert [coding["code"] for coding in members[0]["code"]["coding"]] == ["circumference-40-mm-above-end", "413171006"]
    assert {one["performer"][0]["display"] for one in [panel, *members]} == {"Ida Thornquist"}
    assert members[0]["bodySite"]["text"] == "left residual limb, mid"


def test_a_tapped_pain_is_not_called_a_rating_said_aloud(made: dict[str, Any]) -> None:
    pain = next(one for one in all_of(made["json"], "Observation") if one["code"]["coding"][0]["code"] == "pain")
    first, second = pain["code"]["coding"]
    assert (first["system"], second["system"], second["code"]) == (OWN, "http://loinc.org", "72514-3")
    assert second["display"] == "Pain severity - 0-10 verbal numeric rating [Score] - Reported"


def test_every_code_is_said_in_words_and_every_observation_by_somebody(made: dict[str, Any]) -> None:
    def bare(node: Any) -> list[Any]:
        if isinstance(node, dict):
            coding = {"system", "code"} <= node.keys() and "value" not in node and not node.get("display")
            return [node] * coding + [one for value in node.values() for one in bare(value)]
        return [one for value in node for one in bare(value)] if isinstance(node, list) else []

    assert bare(made["json"]) == []
    observed = all_of(made["json"], "Observation")
    assert observed and all(one["performer"] for one in observed)


def test_a_caregivers_numbers_are_performed_by_the_caregiver(cast: Cast) -> None:
    bram = cast.bram
    assert bram.sync(bram.checkin(TODAY, weight_kg=30)).status_code == 200
    bundle = json.loads(cast.ida.get(f"/api/clinic/limbs/{bram.limb_id}/bundle.fhir.json").get_data())
    performers = {one["performer"][0]["reference"] for one in all_of(bundle, "Observation")}
    assert len(performers) == 1 and performers.pop().startswith("RelatedPerson/")


@pytest.mark.parametrize("kind", ["CodeSystem", "Questionnaire"])
def test_the_notices_of_loinc_and_snomed_go_along(made: dict[str, Any], kind: str) -> None:
    said = all_of(made["json"], kind)[0]["copyright"]
    assert "LOINC is copyright © Regenstrief Institute, Inc." in said and "http://loinc.org/license" in said
    assert "SNOMED CT® was originally created by the College of American Pathologists" in said
    assert "Affiliate license" in said


def test_no_code_of_ours_stands_as_an_answer(cast: Cast) -> None:
    anouk = cast.anouk
    skin = [{"place": "outer_bump", "finding": "open_skin"}]
    said = anouk.checkin(TODAY, skin=skin, signs=["slips_up_and_down", "cold_pale_limb"], tags=["hot_day"])
    assert anouk.sync(said).status_code == 200
    bundle = json.loads(cast.ida.get(f"/api/clinic/limbs/{anouk.limb_id}/bundle.fhir.json").get_data())
    items = all_of(bundle, "QuestionnaireResponse")[0]["item"]
    answers = [item["answer"][0]["valueString"] for item in items if "valueString" in item["answer"][0]]
    assert "fibular head: open skin" in answers
    assert not [answer for answer in answers if re.search(r"[a-z]_[a-z]", answer)]
