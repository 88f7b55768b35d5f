"""Letters: filled from the clinic's templates, kept as they were sent, printed again the same."""

from __future__ import annotations

import gc
import os
from pathlib import Path
from typing import Any

import pytest

from plytide.storage.clinics import clinic_path
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import connect
from tests.actors import Cast, Json
from tests.conftest import TODAY

SAID = {"kind": "physician", "to": "Dr Ilse Wren", "subject": "Anouk", "text": "As of 15 September 2025, she walks."}


def faults(answer: Any) -> dict[str, list[str]]:
    assert answer.status_code == 422, (answer.status_code, answer.get_json())
    found: dict[str, list[str]] = answer.get_json()["error"]["fields"]
    return found


def draft(cast: Cast, kind: str = "physician", limb_id: str | None = None) -> Json:
    found: Json = cast.ida.get(f"/api/clinic/limbs/{limb_id or cast.anouk.limb_id}/letter-draft?kind={kind}").get_json()
    return found


def keep(cast: Cast, letter_id: str = "l1", **said: Any) -> Any:
    return cast.ida.post(f"/api/clinic/limbs/{cast.anouk.limb_id}/letters", {"id": letter_id, **SAID, **said})


def pdf(cast: Cast, letter_id: str = "l1", paper: str = "a4") -> bytes:
    answer = cast.juno.get(f"/api/clinic/letters/{letter_id}/letter.pdf?paper={paper}")
    assert answer.status_code == 200 and answer.mimetype == "application/pdf"
    data: bytes = answer.get_data()
    return data


def template(cast: Cast, text: str | None, kind: str = "physician") -> Any:
    return cast.nora.put(f"/api/clinic/letter-templates/{kind}", {"text": text})


def test_a_draft_is_filled_with_dated_values_and_says_what_is_missing(cast: Cast) -> None:
    anouk = cast.anouk
    cast.ida.patch(f"/api/clinic/people/{anouk.id}", {"physician": "Dr Ilse Wren"})
    tape = {"on": "2025-09-01", "levels": [{"from_end_mm": 0, "circumference_mm": 240}]}
    cast.ida.made(f"/api/clinic/limbs/{anouk.limb_id}/measurements", tape)
    anouk.sync(anouk.checkin(TODAY, comfort=4))
    said = draft(cast)
    assert said["to"] == "Dr Ilse Wren" and said["text"].startswith("Dear Dr Ilse Wren,")
    assert "1 September 2025, from the end of the limb: 240 mm at 0 mm" in said["text"]
    assert "Comfort from 0 to 10, 10 is best: 4.0 (said once; 2 September 2025 to 15 September 2025)." in said["text"]
    assert "Tape before that: not measured (as of 15 September 2025)." in said["text"]
    assert "tape_before" in [one["name"] for one in said["lacks"]]
    assert said["undated"] == []


def test_a_letter_of_somebody_of_whom_nothing_is_known_is_still_a_letter(cast: Cast) -> None:
    person = cast.ida.made("/api/clinic/people", {"name": "Wim"})
    limb = cast.ida.made(f"/api/clinic/people/{person['id']}/limbs", {"side": "left", "level": "transtibial"})
    for kind in ("physician", "heart_team", "kidney_team", "payer", "clinic", "handover"):
        said = draft(cast, kind, limb["id"])
        assert "not measured" in said["text"] and "None" not in said["text"]


def test_both_limbs_of_a_person_stand_in_one_letter(cast: Cast) -> None:
    anouk = cast.anouk
    right = {"side": "right", "level": "transfemoral"}
    other = cast.ida.made(f"/api/clinic/people/{anouk.id}/limbs", right)["id"]
    tape = {"on": "2025-09-02", "levels": [{"from_end_mm": 10, "circumference_mm": 411}]}
    cast.ida.made(f"/api/clinic/limbs/{other}/measurements", tape)
    text = draft(cast, "handover")["text"]
    assert (
        "Other limb: right transfemoral; tape by the clinic 2 September 2025, from the end of the limb: 411 mm" in text
    )


def test_the_clinic_edits_its_templates_and_can_take_ours_back(cast: Cast) -> None:
    assert template(cast, "For {person}: {comfort}.").status_code == 200
    assert draft(cast)["text"] == "For Anouk: not measured (2 September 2025 to 15 September 2025)."
    assert "residual limb" in draft(cast, "clinic")["text"]
    listed = cast.juno.get("/api/clinic/letter-templates").get_json()["templates"]
    own = next(one for one in listed if one["kind"] == "physician")
    assert (own["own"], own["by"]) == (True, "nora")
    assert template(cast, None).get_json()["own"] is False
    assert draft(cast)["text"].startswith("Dear colleague,")


def test_a_template_asks_for_no_field_there_is_not(cast: Cast) -> None:
    assert "“diagnosis”" in faults(template(cast, "Of {person}: {diagnosis}."))["text"][0]
    assert list(faults(template(cast, " "))) == ["text"]
    assert list(faults(template(cast, "x" * 8001))) == ["text"]
    assert template(cast, "x", "landlord").status_code == 404
    assert template(cast, "Braces { } of no name").status_code == 422
    assert cast.juno.put("/api/clinic/letter-templates/physician", {"text": "x"}).status_code == 403


def test_a_letter_with_a_field_left_open_is_not_kept(cast: Cast) -> None:
    assert "{comfort}" in faults(keep(cast, text="Comfort: {comfort}."))["text"][0]
    assert "{person}" in faults(keep(cast, subject="Of { person }"))["subject"][0]
    assert list(faults(keep(cast, text="   "))) == ["text"]
    assert cast.juno.post(f"/api/clinic/limbs/{cast.anouk.limb_id}/letters", {"id": "l", **SAID}).status_code == 403


def test_a_figure_without_its_date_is_told_of_before_the_letter_is_kept(cast: Cast) -> None:
    text = "Comfort is 4. On 15 September 2025 it was 5."
    assert "“Comfort is 4.”" in faults(keep(cast, text=text))["text"][0]
    assert cast.ida.get("/api/clinic/letters/l1").status_code == 404
    assert keep(cast, text=text, undated_seen=True).status_code == 201


def test_a_letter_stays_as_it_was_sent_whatever_changes_later(cast: Cast) -> None:
    assert keep(cast).status_code == 201
    before, whole = pdf(cast), cast.ida.get("/api/clinic/letters/l1").get_json()
    cast.ida.patch(f"/api/clinic/people/{cast.anouk.id}", {"name": "Another name", "record_number": "77"})
    cast.nora.patch("/api/clinic/settings", {"phone": "01 555 0199"})
    template(cast, "Another text.")
    cast.clock.forward(minutes=20)
    assert pdf(cast) == before
    assert cast.ida.get("/api/clinic/letters/l1").get_json() == whole
    assert whole["content"]["about"].startswith("Anouk, born ")


@pytest.mark.parametrize("deed", ["UPDATE letter SET content = '{}'", "DELETE FROM letter"])
def test_a_kept_letter_is_neither_changed_nor_thrown_away_in_the_file(cast: Cast, deed: str) -> None:
    keep(cast)
    data = Path(cast.app.config["SETTINGS"].data_dir)
    registry = Registry(data)
    db = connect(clinic_path(data, registry.clinic_files()[0][1]))
    with pytest.raises(Exception, match="append-only"):
        db.conn.execute(deed)
    db.close()
    registry.close()


def test_a_second_press_keeps_no_second_letter_and_other_words_are_refused(cast: Cast) -> None:
    assert [keep(cast).status_code, keep(cast).status_code] == [201, 201]
    listed = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}/letters").get_json()["letters"]
    assert [one["id"] for one in listed] == ["l1"]
    assert list(faults(keep(cast, text="Something else."))) == ["id"]


def test_a_letter_takes_the_place_of_one_of_the_same_person_only(cast: Cast) -> None:
    keep(cast)
    assert keep(cast, "l2", replaces="l1").status_code == 201
    listed = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}/letters").get_json()["letters"]
    assert {one["id"]: one["replaced"] for one in listed} == {"l1": True, "l2": False}
    second = cast.ida.get("/api/clinic/letters/l2").get_json()["content"]
    assert second["replaces"] == "This letter takes the place of ours of 15 September 2025."
    dov = f"/api/clinic/limbs/{cast.dov.limb_id}/letters"
    assert list(faults(cast.ida.post(dov, {"id": "l3", **SAID, "replaces": "l1"}))) == ["replaces"]
    assert list(faults(keep(cast, "l4", replaces="none"))) == ["replaces"]


def test_every_read_print_and_keeping_is_in_the_audit_chain(cast: Cast) -> None:
    draft(cast)
    keep(cast)
    pdf(cast)
    cast.ida.get("/api/clinic/letters/l1")
    template(cast, "x")
    lines = cast.nora.get("/api/clinic/audit").get_json()["lines"]
    said = {(line["what"], line["subject"]) for line in lines}
    person, limb = f"person:{cast.anouk.id}", f"limb:{cast.anouk.limb_id}"
    assert {("letter.draft", limb), ("letter.add", person), ("letter.print", person), ("letter.read", person)} <= said
    assert ("letter-template.change", "clinic") in said
    assert "walks" not in str(lines)


@pytest.mark.parametrize("name", ["Ελένη", "Ирина", "فاطمة", "<b>Wren</b>", "Łucja"])
def test_names_of_any_letters_go_through_draft_keeping_and_paper(cast: Cast, name: str) -> None:
    cast.ida.patch(f"/api/clinic/people/{cast.anouk.id}", {"name": name})
    said = draft(cast)
    assert name in said["text"]
    assert keep(cast, text=said["text"], subject=said["subject"]).status_code == 201
    assert pdf(cast, paper="letter")[:5] == b"%PDF-"


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="asks Linux which files are open")
def test_no_font_file_is_left_open_by_a_letter_of_several_sheets(cast: Cast) -> None:
    cast.ida.patch(f"/api/clinic/people/{cast.anouk.id}", {"name": "فاطمة"})
    said = draft(cast)
    assert keep(cast, text=said["text"] + "\n\nA line." * 200, subject=said["subject"]).status_code == 201
    gc.disable()
    try:
        assert pdf(cast)[:5] == b"%PDF-"
        assert [name for name in Path("/proc/self/fd").iterdir() if os.path.realpath(name).endswith(".ttf")] == []
    finally:
        gc.enable()
