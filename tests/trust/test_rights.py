"""A person's rights: to have everything that is held (GDPR Art. 15, 20), and to be erased (Art. 17)."""

from __future__ import annotations

import base64
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from plytide.settings import utc_now
from plytide.storage import person_rows
from plytide.storage.clinics import clinic_path
from plytide.storage.files import backup, erasures
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import connect
from tests.actors import Cast
from tests.conftest import TODAY, signed_in
from tests.http.test_photos import put

CANARY = "canary-of-anouk"


def data_of(cast: Cast) -> Path:
    return Path(cast.app.config["SETTINGS"].data_dir)


def bytes_of(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def noise() -> bytes:
    """A photo whose every stretch of bytes is like no other."""
    out = io.BytesIO()
    Image.effect_noise((320, 240), 90).convert("RGB").save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def full(cast: Cast) -> Cast:
    """Anouk with something in every table that can hold her, each free text a canary."""
    anouk, ida = cast.anouk, cast.ida
    ida.patch(f"/api/clinic/people/{anouk.id}", {"name": f"{CANARY}-name"})
    log = anouk.checkin(TODAY, note=f"{CANARY}-note", skin=[{"place": f"{CANARY}-skin", "finding": "open_skin"}])
    anouk.sync(log, anouk.checkin(TODAY, falls=2))
    assert put(anouk, noise(), checkin_id=log["id"]).status_code == 201
    agreed = {"person_id": anouk.id, "words": f"{CANARY}-words", "agreed": True, "said_at": "2025-09-15T12:00:00Z"}
    anouk.phone.made("/api/consents", agreed)
    limb = f"/api/clinic/limbs/{anouk.limb_id}"
    ida.get("/api/clinic/worklist")
    story = ida.get(limb).get_json()
    ida.made(f"/api/clinic/signals/{story['signals'][0]['id']}/acknowledge", {"note": f"{CANARY}-signal"})
    ida.made(f"{limb}/notes", {"text": f"{CANARY}-clinic-note"})
    sized = {"place": f"{CANARY}-skin", "what": "size", "on": TODAY.isoformat(), "length_mm": 8}
    ida.made(f"{limb}/healing", sized | {"note": f"{CANARY}-healing"})
    measured = {"kind": "comfort", "on": TODAY.isoformat(), "value": 7, "note": f"{CANARY}-measured"}
    ida.made(f"{limb}/outcome-measures", measured)
    ida.patch(f"{limb}/pocket", {"care": f"{CANARY}-pocket"})
    ida.patch(limb, {"shape": "conical"})  # what it was before is theirs, too
    ida.made(f"{limb}/interventions", {"on": TODAY.isoformat(), "kind": f"{CANARY}-deed"})
    tape = {"on": TODAY.isoformat(), "levels": [{"from_end_mm": 0, "circumference_mm": 240, "name": f"{CANARY}-level"}]}
    ida.made(f"{limb}/measurements", tape)
    ida.made(f"{limb}/decisions", {"on": TODAY.isoformat(), "choice": "wait", "note": f"{CANARY}-decision"})
    socket = f"/api/clinic/sockets/{story['sockets'][0]['id']}"
    ida.made(f"{socket}/pads", {"on": TODAY.isoformat(), "thickness_mm": 2, "place": f"{CANARY}-pad"})
    despite = {"reason": f"{CANARY}-despite"}
    ida.made(f"{socket}/suspensions", {"on": TODAY.isoformat(), "suspension": "suction", "despite": despite})
    ida.made(f"/api/clinic/people/{anouk.id}/visits", {"on": "2025-10-01", "what": f"{CANARY}-visit"})
    making = {"id": "mk1", "made": "direct", "on": TODAY.isoformat(), "purpose": "diagnostic"}
    ida.made(f"{limb}/makings", making)
    ida.made("/api/clinic/makings/mk1/steps", {"id": "e1", "step": "tape", "state": "done", "note": f"{CANARY}-step"})
    item = ida.made("/api/clinic/stock/items", {"kind": "liner", "name": "Cushion"})["id"]
    taken = {"id": "u1", "item_id": item, "count": 1, "despite": {"reason": f"{CANARY}-taken"}}
    ida.made("/api/clinic/makings/mk1/items", taken)
    ida.made(f"{socket}/components", {"what": f"{CANARY}-component", "fitted_on": TODAY.isoformat()})
    said = {"kind": "physician", "subject": "x", "text": f"{CANARY}-letter"}
    ida.made(f"{limb}/letters", {"id": "l1", **said})
    return cast


def erased(cast: Cast, name: str = f"{CANARY}-name") -> Any:
    cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/erasure", {"reason": f"{CANARY}-reason"})
    return cast.nora.post(f"/api/clinic/people/{cast.anouk.id}/erasure/confirm", {"name": name})


def everything_about(cast: Cast) -> dict[str, Any]:
    return dict(json.loads(cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/export.json").get_data()))


def tables_with_rows(cast: Cast) -> set[str]:
    data = data_of(cast)
    registry = Registry(data)
    db = connect(clinic_path(data, registry.clinic_files()[0][1]))
    try:
        return set(person_rows.rows_of(db, cast.anouk.id))
    finally:
        db.close()
        registry.close()


def test_the_export_holds_every_text_ever_written_about_a_person(full: Cast) -> None:
    export = everything_about(full)
    exported = set(re.findall(rf"{CANARY}-[\w-]+", json.dumps(export)))
    expected = {f"{CANARY}-{what}" for what in (
        "name", "note", "skin", "words", "signal", "clinic-note", "deed", "level", "decision", "pad", "despite",
        "visit", "letter", "step", "taken", "component", "pocket", "healing", "measured")}  # fmt: skip
    assert expected <= exported
    assert base64.b64decode(export["held"]["photo"][0]["jpeg"])[:2] == b"\xff\xd8"
    assert any(line["who"] == "ida" and line["what"] == "person.change" for line in export["who_looked"])


def test_the_page_to_read_holds_the_same_and_nothing_that_runs(full: Cast) -> None:
    full.ida.patch(f"/api/clinic/people/{full.anouk.id}", {"name": "<script>alert(1)</script>"})
    answer = full.ida.get(f"/api/clinic/people/{full.anouk.id}/export.html")
    assert answer.headers["Content-Disposition"].startswith("attachment")
    text = answer.get_data(as_text=True)
    tags: set[str] = set()
    addresses: list[str] = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            tags.add(tag)
            addresses.extend(str(value) for name, value in attrs if name in ("src", "href"))

    Reader().feed(text)
    assert "script" not in tags and {"table", "h1", "img"} <= tags
    assert all(address.startswith("data:image/jpeg;base64,") for address in addresses)
    assert f"{CANARY}-clinic-note" in text and f"{CANARY}-visit" in text


def test_a_second_person_must_confirm_and_type_the_name(full: Cast) -> None:
    person = f"/api/clinic/people/{full.anouk.id}"
    assert full.nora.post(f"{person}/erasure/confirm", {"name": "x"}).status_code == 409
    full.nora.made(f"{person}/erasure", {})
    assert full.nora.post(f"{person}/erasure/confirm", {"name": f"{CANARY}-name"}).status_code == 409
    full.ida.made(f"{person}/erasure", {})
    assert full.ida.post(f"{person}/erasure/confirm", {"name": f"{CANARY}-name"}).status_code == 403
    wrong = full.nora.post(f"{person}/erasure/confirm", {"name": "Anouk"})
    assert wrong.status_code == 422 and list(wrong.get_json()["error"]["fields"]) == ["name"]
    assert full.ida.get(person).status_code == 200
    assert full.ida.delete(f"{person}/erasure").status_code == 200
    assert full.nora.post(f"{person}/erasure/confirm", {"name": f"{CANARY}-name"}).status_code == 409


def test_erasure_leaves_no_row_and_no_byte_and_an_audit_chain_that_holds(full: Cast) -> None:
    data = data_of(full)
    picture = base64.b64decode(everything_about(full)["held"]["photo"][0]["jpeg"])
    probe = picture[len(picture) // 2 : len(picture) // 2 + 32]
    held = bytes_of(data)
    assert CANARY.encode() in held and probe in held
    before = tables_with_rows(full)
    answer = erased(full)
    assert answer.status_code == 200, answer.get_json()
    assert set(answer.get_json()["rows"]) == before | {"erasure"}
    assert {"checkin", "photo", "consent", "signal_event", "note", "decision", "device", "suspension"} <= before
    left = bytes_of(data)
    assert CANARY.encode() not in left and probe not in left
    assert backup.check(data) == []
    assert full.ida.get(f"/api/clinic/people/{full.anouk.id}").status_code == 404
    assert full.anouk.phone.get("/api/me").status_code == 401
    assert full.dov.phone.get("/api/me").status_code == 200
    lines = full.nora.get(f"/api/clinic/audit?subject={full.anouk.id}").get_json()["lines"]
    assert lines[0]["what"] == "person.erase"


def test_others_are_untouched_and_a_shared_phone_goes_on_for_them(full: Cast) -> None:
    both = {"role": "caregiver", "person_ids": [full.anouk.id, full.bram.id]}
    code = full.ida.made(f"/api/clinic/people/{full.anouk.id}/enrolment-codes", both)["code"]
    shared = full.nobody.made("/api/enrol", {"code": code, "label": "Shared"})["token"]
    assert full.bram.sync(full.bram.checkin(TODAY, note="of Bram")).status_code == 200
    story = full.ida.get(f"/api/clinic/limbs/{full.bram.limb_id}").get_json()
    assert erased(full).status_code == 200
    phone = {"Authorization": f"Bearer {shared}"}
    told = full.nobody.get("/api/me", headers=phone).get_json()
    assert [person["id"] for person in told["people"]] == [full.bram.id]
    offered = {"schema": 1, "cursor": None, "checkins": [full.anouk.checkin(TODAY)]}
    receipt = full.nobody.post("/api/sync", offered, headers=phone).get_json()["receipts"][0]
    assert receipt["status"] == "refused"  # a phone that offers again what it holds brings nobody back
    after = full.ida.get(f"/api/clinic/limbs/{full.bram.limb_id}").get_json()
    assert after["days"] == story["days"] and after["sockets"] == story["sockets"]


def test_a_backup_from_before_brings_nobody_back(full: Cast, tmp_path: Path) -> None:
    data = data_of(full)
    backup.backup(data, tmp_path / "yesterday", utc_now())
    assert erased(full).status_code == 200
    backup.restore(tmp_path / "yesterday", data, force=True)
    ida = signed_in(full.app, "ida")  # a restore ends every session
    assert ida.get(f"/api/clinic/people/{full.anouk.id}").status_code == 404
    assert CANARY.encode() not in bytes_of(data)
    assert ida.get(f"/api/clinic/people/{full.dov.id}").status_code == 200
    assert backup.check(data) == []


def test_a_newer_backup_brings_the_list_to_a_new_machine(full: Cast, tmp_path: Path) -> None:
    data = data_of(full)
    backup.backup(data, tmp_path / "old", utc_now())
    assert erased(full).status_code == 200
    backup.backup(data, tmp_path / "new", utc_now())
    (tmp_path / "old" / erasures.LIST).write_bytes((tmp_path / "new" / erasures.LIST).read_bytes())
    backup.restore(tmp_path / "old", tmp_path / "machine")
    assert CANARY.encode() not in bytes_of(tmp_path / "machine")


def test_an_erasure_cut_short_is_finished_at_the_next_start(full: Cast) -> None:
    data, registry = data_of(full), Registry(data_of(full))
    clinic_id = registry.clinic_files()[0][0]
    registry.close()
    erasures.put_down(data, clinic_id, full.anouk.id, utc_now())  # and then the power went
    with (data / erasures.LIST).open("a") as file:
        file.write('{"clinic": "half a li')
    assert erasures.go_through(data, utc_now()) == 1
    assert CANARY.encode() not in bytes_of(data)
    assert erasures.go_through(data, utc_now()) == 0


def test_the_walk_reaches_every_table_that_can_hold_a_person(full: Cast) -> None:
    """A new table that names a person or a limb is either reached, or said here to hold none of anybody."""
    data = data_of(full)
    registry = Registry(data)
    db = connect(clinic_path(data, registry.clinic_files()[0][1]))
    tables = {row[0] for row in db.conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    conditions = set(person_rows._conditions(db, full.anouk.id))
    db.close()
    registry.close()
    of_nobody = {
        "clinic",
        "staff",
        "audit",
        "audit_head",
        "erasing",
        "mail",
        "urgency_count",
        "rules_agreement",
        "calendar_feed",
        "letter_template",
        "settings_before",
        "caseload",  # numbers of rows and what was wrong, without names
        "caseload_column",
        "caseload_part",  # a file that waits: an erasure drops them all
        "stock_item",  # for whom a piece was taken stands in stock_use
        "stock_movement",
        "stock_import",
        "making_list",
    }
    of_nobody |= {
        "set_aside",
        "fact",
        "fact_shape",
        "touched",
    }  # ids and digests, and test_facts says what is left of them
    assert {name for name in tables - conditions - of_nobody if not name.startswith(("sqlite_", "_"))} == set()
