"""Room by phone, person, clinic and disk: told before anything stops, and check-ins are the last to be refused."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from plytide.http.app import create_app
from plytide.settings import Settings
from plytide.storage.files import room
from tests.actors import Actor, Cast, Wearer
from tests.http.test_photos import jpeg, put

Here = Callable[..., tuple[Wearer, Actor]]


@pytest.fixture
def here(cast: Cast, settings: Settings) -> Here:
    """Anouk's phone and Ida, at a server that runs with other settings."""

    def at(**other: Any) -> tuple[Wearer, Actor]:
        app = create_app(replace(settings, **other))
        return replace(cast.anouk, phone=replace(cast.anouk.phone, app=app)), replace(cast.ida, app=app)

    return at


def marks(settings: Settings, times: float) -> dict[str, int]:
    """So much is free as is `times` the least."""
    return {"least_free_bytes": int(shutil.disk_usage(settings.data_dir).free / times)}


CASELOAD = ("/api/clinic/caseloads", {"name": "list.csv", "kind": "csv", "size": 9})


@pytest.mark.parametrize(
    ("times", "warned", "photo", "note", "checkin"),
    [
        (room.LOW * 1.2, False, 201, 201, "kept"),
        (room.LOW / 1.2, True, 201, 201, "kept"),
        (room.MUCH / 1.2, True, 507, 201, "kept"),
        (room.SOME / 1.2, True, 507, 507, "kept"),
        (0.5, True, 507, 507, "kept"),
    ],
)
def test_photos_stop_first_then_what_staff_enter_and_check_ins_last(
    here: Here, settings: Settings, times: float, warned: bool, photo: int, note: int, checkin: str
) -> None:
    phone, ida = here(**marks(settings, times))
    kept = phone.sync(phone.checkin(settings.now().date())).get_json()
    assert kept["receipts"][0]["status"] == checkin
    said = put(phone, jpeg())
    assert said.status_code == photo
    if photo == 507:
        assert said.get_json()["error"]["code"] == "no-room" and int(said.headers["Retry-After"]) > 0
    assert ida.call("POST", *CASELOAD).status_code == photo
    assert ida.call("POST", f"/api/clinic/limbs/{phone.limb_id}/notes", {"text": "Seen."}).status_code == note
    # The clinic reads it, and whoever runs the server, before anything stops.
    told = ida.get("/api/clinic/settings").get_json()["room"]
    assert bool(told) == warned
    assert bool(ida.get("/api/clinic/worklist").get_json()["failing"]) == warned
    ready = ida.get("/readyz")
    assert ready.status_code == (503 if times < 1 else 200)
    if ready.status_code == 200:
        assert bool(ready.get_json()["warnings"]) == warned
    assert f"plytide_room_warnings {float(warned)}" in ida.get("/metrics").get_data(as_text=True)
    # Whoever is in can go, and what makes room can be done.
    assert ida.call("DELETE", "/api/clinic/session").status_code == 200


def test_a_clinic_that_took_its_share_keeps_check_ins_and_is_told_before(here: Here, settings: Settings) -> None:
    phone, ida = here()
    file = next(path for path in settings.data_dir.glob("clinics/*.db") if "sallow" not in path.name)
    now = room.taken(file)
    phone, ida = here(clinic_bytes=int(now / 0.9))
    assert put(phone, jpeg()).status_code == 201
    assert "%" in ida.get("/api/clinic/settings").get_json()["room"][0]
    phone, ida = here(clinic_bytes=now // 2)
    assert put(phone, jpeg((300, 200)), "p2").status_code == 507
    assert put(phone, jpeg()).get_json()["status"] == "already"
    assert phone.sync(phone.checkin(settings.now().date())).get_json()["receipts"][0]["status"] == "kept"
    warnings = ida.get("/readyz").get_json()["warnings"]
    assert any(file.stem[-6:] in said for said in warnings) and file.stem not in str(warnings)


def test_one_persons_photos_take_no_more_than_their_share(here: Here, cast: Cast) -> None:
    phone, _ = here(person_bytes=1)
    assert [put(phone, jpeg()).status_code, put(phone, jpeg((300, 200)), "p2").status_code] == [201, 413]
    bram = replace(cast.bram, phone=replace(cast.bram.phone, app=phone.phone.app))
    assert put(bram, jpeg(), "p3").status_code == 201


def test_one_phone_sends_no_more_in_an_hour_than_it_may(here: Here, settings: Settings, cast: Cast) -> None:
    phone, _ = here(bytes_an_hour=150_000, proxies=1)
    bram = replace(cast.bram, phone=replace(cast.bram.phone, app=phone.phone.app))
    day = settings.now().date()

    def send(wearer: Wearer, count: int) -> Any:
        items = [wearer.checkin(day, note="x" * 900) for _ in range(count)]
        body = {"schema": 1, "cursor": None, "checkins": items}
        return wearer.phone.call("POST", "/api/sync", body, headers={"X-Forwarded-For": "203.0.113.5"})

    assert send(phone, 100).status_code == 200
    over = send(phone, 100)
    assert over.status_code == 429 and 1 <= int(over.headers["Retry-After"]) <= 3600
    assert over.get_json()["error"]["code"] == "too-many-bytes"
    assert send(bram, 100).status_code == 200  # one phone's haste is nobody else's wait
