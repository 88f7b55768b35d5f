"""Logs, errors and figures hold no health data, no name and no secret (OWASP ASVS 5.0, 16.2.5 and 14.2.1)."""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Iterator

import pytest

from plytide.storage.clinics import clinic_path
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import connect
from tests.actors import PASSWORD, Cast
from tests.conftest import TODAY
from tests.http.test_photos import jpeg, put

CANARY = "canary-text"


@pytest.fixture
def heard() -> Iterator[io.StringIO]:
    """Everything any logger says, down to DEBUG."""
    said = io.StringIO()
    handler = logging.StreamHandler(said)
    handler.setFormatter(logging.Formatter("%(name)s %(levelname)s %(message)s"))
    root = logging.getLogger()
    before = root.level
    root.addHandler(handler)
    root.setLevel(logging.DEBUG)
    yield said
    root.removeHandler(handler)
    root.setLevel(before)


def say_everything(cast: Cast) -> list[str]:
    """Health data, names and secrets by every door, in right calls and wrong ones; the answers that are errors."""
    anouk, ida = cast.anouk, cast.ida
    limb = f"/api/clinic/limbs/{anouk.limb_id}"
    note, skin = f"{CANARY}-note", [{"place": f"{CANARY}-place", "finding": "open_skin"}]
    calls = [
        anouk.sync(anouk.checkin(TODAY, note=note, skin=skin)),
        anouk.sync(anouk.checkin(TODAY, note=[note], fit=f"{CANARY}-fit", skin=f"{CANARY}-skin")),
        anouk.phone.post("/api/sync", {"schema": 9, "checkins": f"{CANARY}-envelope"}),
        anouk.phone.call("POST", "/api/sync", data=f'{{"{CANARY}-broken'.encode()),
        put(anouk, jpeg()),
        put(anouk, f"{CANARY}-photo".encode(), photo_id="p2"),
        ida.patch(f"/api/clinic/people/{anouk.id}", {"name": f"{CANARY}-name"}),
        ida.patch(f"/api/clinic/people/{anouk.id}", {"born_on": f"{CANARY}-born"}),
        ida.post(f"{limb}/notes", {"text": f"{CANARY}-clinic"}),
        ida.post(f"{limb}/sockets", {"note": f"{CANARY}-socket"}),
        ida.get("/api/clinic/people", query_string={"q": f"{CANARY}-search"}),
        ida.get(f"/api/clinic/people/{CANARY}-id"),
        ida.get(f"{limb}?as_of={CANARY}-day"),
        ida.get("/api/clinic/worklist"),
        ida.get(limb),
        ida.get(f"{limb}/bundle.fhir.json"),
        ida.get(f"/api/clinic/people/{anouk.id}/export.json"),
        cast.nobody.post("/api/clinic/session", {"login": f"{CANARY}-login", "password": f"{CANARY}-password"}),
        cast.nobody.post("/api/clinic/session", {"login": "ida", "password": PASSWORD}),
        cast.nobody.post("/api/enrol", {"code": f"{CANARY}-code", "label": f"{CANARY}-label"}),
        cast.nobody.get("/api/me", headers={"Authorization": f"Bearer {CANARY}-token"}),
    ]
    return [answer.get_data(as_text=True) for answer in calls if answer.status_code >= 400]


def test_nothing_that_was_said_gets_into_a_log(cast: Cast, heard: io.StringIO) -> None:
    logging.getLogger("plytide").debug("the watch hears")
    say_everything(cast)
    log = heard.getvalue()
    assert "the watch hears" in log
    for secret in (
        CANARY,
        "Anouk",
        PASSWORD,
        cast.anouk.token,
        cast.ida.headers["Cookie"],
        cast.ida.headers["X-CSRF-Token"],
    ):
        assert secret not in log


def test_an_error_names_the_field_and_never_says_back_what_was_sent(cast: Cast) -> None:
    errors = say_everything(cast)
    assert len(errors) >= 9
    assert [error for error in errors if CANARY in error or "Anouk" in error] == []


def test_a_broken_database_is_logged_without_what_it_held(cast: Cast, heard: io.StringIO) -> None:
    say_everything(cast)
    data = cast.app.config["SETTINGS"].data_dir
    registry = Registry(data)
    db = connect(clinic_path(data, registry.clinic_files()[0][1]))
    registry.close()
    db.conn.execute("ALTER TABLE note RENAME COLUMN text TO lost")
    db.close()
    answer = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}")
    assert answer.status_code in (500, 503) and CANARY not in answer.get_data(as_text=True)
    assert "Traceback" not in answer.get_data(as_text=True) and "SELECT" not in answer.get_data(as_text=True)
    assert "clinic unavailable" in heard.getvalue() and CANARY not in heard.getvalue()


def test_a_fault_of_ours_is_logged_with_its_place_and_without_its_words(
    cast: Cast, caplog: pytest.LogCaptureFixture
) -> None:
    say_everything(cast)
    data = cast.app.config["SETTINGS"].data_dir
    registry = Registry(data)
    db = connect(clinic_path(data, registry.clinic_files()[0][1]))
    registry.close()
    db.conn.execute("UPDATE person SET born_on = ?", (f"{CANARY}-born",))  # what date.fromisoformat would say back
    db.close()
    answer = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}")
    assert answer.status_code == 500 and CANARY not in answer.get_data(as_text=True)
    formatter = logging.Formatter("%(message)s")
    said = "".join(formatter.format(record) for record in caplog.records if record.name == "plytide")
    assert "ValueError" in said and "history.py" in said and CANARY not in said


def test_figures_name_routes_and_never_an_id_or_a_name(cast: Cast) -> None:
    say_everything(cast)
    said = cast.nobody.get("/metrics").get_data(as_text=True)
    assert 'route="/api/clinic/limbs/<limb_id>"' in said and "plytide_disk_free_bytes" in said
    assert CANARY not in said and "Anouk" not in said and "Marram" not in said
    assert not re.search(r"[0-9a-f]{8}-[0-9a-f]{4}", said)
