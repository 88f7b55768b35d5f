"""One row that can't be worked on is set aside by itself: the others get theirs, and the clinic is told."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from plytide.settings import Settings
from plytide.storage.clinics import open_clinic
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import write
from plytide.work import background
from tests.actors import Cast, Clock
from tests.conftest import signed_in
from tests.post import Inbox, listening
from tests.work.test_mail import wound
from tests.work.test_reminders import Browser, service  # noqa: F401 a fixture

BAD_ADDRESSES = (
    "boss@",
    "@clinic.example",
    "boss@clinic.example\r\nBcc: all@clinic.example",
    "boss@clinic.example\n",
    "boss boss@clinic.example",
    "a@b@clinic.example",
    "bøss@clinic.example",
    "boss@clinic..example",
    ".boss@clinic.example",
    "boss@[clinic.example",
    "b\x1boss@clinic.example",
)


@pytest.fixture
def inbox() -> Iterator[tuple[Inbox, str]]:
    with listening() as (box, url):
        yield box, url


def sql(settings: Settings, login: str, statement: str, *args: Any) -> list[Any]:
    """What an older version may have kept: written past every check, into the clinic of `login`."""
    registry = Registry(settings.data_dir)
    try:
        whose = registry.whose_login(login)
        assert whose is not None
        db = open_clinic(settings.data_dir, registry, whose[0])
        try:
            with write(db):
                return list(db.conn.execute(statement, args))
        finally:
            db.close()
    finally:
        registry.close()


def failing(cast: Cast) -> list[dict[str, Any]]:
    """What the clinic is told. Signed in anew: the clock was moved."""
    found: list[dict[str, Any]] = signed_in(cast.app, "nora").get("/api/clinic/settings").get_json()["failing"]
    return found


# At the door.


@pytest.mark.parametrize("address", BAD_ADDRESSES)
def test_no_door_takes_an_address_no_mail_can_be_sent_to(cast: Cast, address: str) -> None:
    answer = cast.ida.patch("/api/clinic/settings", {"mail": address})
    assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, ["mail"])
    own = {"mail": address, "password": "a long walk by the water"}
    answer = cast.ida.put("/api/clinic/mail", own)
    assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, ["mail"])
    new = {"login": "bo", "name": "Bo", "role": "assistant", "mail": address}
    answer = cast.nora.post("/api/clinic/staff", new)
    assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, ["mail"])


def subscription(**keys: Any) -> dict[str, Any]:
    good = Browser(1).subscription
    return good | {"endpoint": "https://push.example/1", "keys": good["keys"] | keys}


ON_NO_CURVE = "BA" + "A" * 85  # the right length and first byte, and no point of P-256


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ("zone", {"zone": "Mars/Olympus"}),
        ("zone", {"zone": "../../etc/passwd"}),
        ("zone", {"zone": "Éurope/Berlin"}),
        ("subscription.keys.auth", {"subscription": subscription(auth="ключ")}),
        ("subscription.keys.auth", {"subscription": subscription(auth="c2hvcnQ")}),
        ("subscription.keys.p256dh", {"subscription": subscription(p256dh="not base64!")}),
        ("subscription.keys.p256dh", {"subscription": subscription(p256dh=ON_NO_CURVE)}),
        ("subscription.keys.p256dh", {"subscription": subscription(p256dh="ж" * 87)}),
        ("subscription.endpoint", {"subscription": subscription() | {"endpoint": "https://[push.example"}}),
        ("subscription.endpoint", {"subscription": subscription() | {"endpoint": "https://push.example/a\r\nb: c"}}),
        ("subscription.endpoint", {"subscription": subscription() | {"endpoint": "https://push.example:99999/"}}),
        ("subscription.endpoint", {"subscription": subscription() | {"endpoint": "https://a b.example/"}}),
        ("subscription.expirationTime", {"subscription": subscription() | {"expirationTime": {"a": []}}}),
        ("at", {"at": []}),
    ],
)
def test_a_reminder_that_could_not_be_sent_is_refused_by_field(cast: Cast, field: str, said: dict[str, Any]) -> None:
    good = {"subscription": subscription(), "at": ["20:00"], "zone": "Europe/Berlin"}
    assert cast.anouk.phone.put("/api/push", good).status_code == 200
    answer = cast.anouk.phone.put("/api/push", good | said)
    assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, [field])


# Rows that are there already.


@pytest.mark.parametrize("address", ["boss@", "x\r\nBcc: all@clinic.example", "", "a@b@c", "<", "boss@\n"])
def test_an_address_that_can_not_be_sent_to_costs_nobody_else_their_mail(
    cast: Cast, settings: Settings, inbox: tuple[Inbox, str], clock: Clock, today: date, address: str
) -> None:
    box, url = inbox
    sql(settings, "ida", "UPDATE clinic SET settings = json_set(settings, '$.mail', ?)", address)
    sql(settings, "ida", "UPDATE staff SET mail = 'ida@clinic.example' WHERE login = 'ida'")
    mailed = replace(settings, smtp_url=url)
    clock.forward(hours=-8)
    wound(cast, today)
    background.sweep(mailed)
    clock.forward(minutes=3)
    for _ in range(5):
        background.sweep(mailed)
    assert [message["To"] for message in box.mail] == ["ida@clinic.example"]
    if not address:
        return  # no address at all: nothing was meant for it
    (one,) = failing(cast)
    assert (one["what"], one["to"], one["tries"]) == ("mail", address, 1)
    assert one["since"] == clock().isoformat() and one["why"]
    pauses = []
    for tries in range(2, 6):
        before = clock()
        while failing(cast)[0]["tries"] < tries:
            clock.forward(minutes=1)
            background.sweep(mailed)
        pauses.append(clock() - before)
    assert pauses == sorted(pauses) and pauses[0] < pauses[-1]
    # Mended: the mail that waited goes to the address that is right, and nothing is failing any longer.
    box.mail.clear()
    ida = signed_in(cast.app, "ida")
    assert ida.patch("/api/clinic/settings", {"mail": "desk@clinic.example"}).status_code == 200
    background.sweep(mailed)
    assert [message["To"] for message in box.mail] == ["desk@clinic.example"]
    assert failing(cast) == []


def test_an_address_that_failed_for_long_hears_of_the_next_urgent_matter(
    cast: Cast, settings: Settings, inbox: tuple[Inbox, str], clock: Clock, today: date
) -> None:
    box, url = inbox
    cast.ida.patch("/api/clinic/settings", {"mail": "desk@clinic.example"})
    mailed = replace(settings, smtp_url=url)
    clock.forward(hours=-8)
    box.down = True
    wound(cast, today)
    for _ in range(40):
        clock.forward(hours=1)
        background.sweep(mailed)
    assert failing(cast)[0]["tries"] > 12
    box.down = False
    skin = [{"place": "end of the limb", "finding": "open_skin", "redness_minutes": None}]
    cast.dov.sync(cast.dov.checkin(clock().date(), skin=skin))
    background.sweep(mailed)
    clock.forward(minutes=3)
    background.sweep(mailed)
    assert "Plytide: Something urgent needs a look" in [message["Subject"] for message in box.mail]
    assert failing(cast) == []


def test_a_mail_server_that_hangs_up_at_one_address_still_gets_the_others(
    cast: Cast, settings: Settings, inbox: tuple[Inbox, str], clock: Clock, today: date
) -> None:
    box, url = inbox
    box.hangs_up_at = "ada@clinic.example"
    sql(settings, "ida", "UPDATE clinic SET settings = json_set(settings, '$.mail', 'ada@clinic.example')")
    sql(settings, "ida", "UPDATE staff SET mail = login || '@clinic.example'")
    mailed = replace(settings, smtp_url=url)
    clock.forward(hours=-8)
    wound(cast, today)
    background.sweep(mailed)
    clock.forward(minutes=3)
    background.sweep(mailed)
    assert sorted(message["To"] for message in box.mail) == [
        "ida@clinic.example", "juno@clinic.example", "nora@clinic.example",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("zone", "Mars/Olympus"),
        ("zone", "../etc"),
        ("subscription", json.dumps({"endpoint": "http://127.0.0.1:1/", "keys": {"p256dh": "ключ", "auth": "ключ"}})),
        ("subscription", "[]"),
        ("subscription", "17"),
        ("at", '["25:99"]'),
        ("at", "[7]"),
        ("at", "null"),
    ],
)
def test_a_reminder_that_can_not_be_sent_costs_nobody_else_theirs(
    cast: Cast,
    settings: Settings,
    service: Any,  # noqa: F811
    clock: Clock,
    column: str,
    value: str,  # noqa: F811
) -> None:
    local = replace(settings, push_local=True)
    cast.app.config["SETTINGS"] = local
    for wearer in (cast.anouk, cast.dov):
        said = {"subscription": Browser(service.server_port).subscription, "at": ["20:00"], "zone": "UTC"}
        assert wearer.phone.put("/api/push", said).status_code == 200
    mine = sql(settings, "ida", "SELECT device_id FROM device_person WHERE person_id = ?", cast.anouk.id)[0][0]
    sql(settings, "ida", f"UPDATE push SET {column} = ? WHERE device_id = ?", value, mine)
    clock.forward(hours=8, minutes=1)
    background.sweep(local)
    assert len(service.got) == (2 if column == "zone" else 1)  # without a zone that is known: by UTC
    if column == "zone":
        return
    (one,) = failing(cast)
    assert (one["what"], one["tries"]) == ("reminder", 1)
    for _ in range(3):
        background.sweep(local)
    assert failing(cast)[0]["tries"] == 1  # not at every sweep
    assert len(service.got) == 1
    cast.anouk.phone.put("/api/push", said)
    assert failing(cast) == []


def test_a_limb_that_can_not_be_assessed_holds_up_no_round_and_no_worklist(
    cast: Cast, settings: Settings, inbox: tuple[Inbox, str], clock: Clock, today: date
) -> None:
    box, url = inbox
    cast.ida.patch("/api/clinic/settings", {"mail": "desk@clinic.example"})
    clock.forward(hours=-8)
    mailed = replace(settings, smtp_url=url)
    bad = '[{"levels": 7}]'
    sql(settings, "ida", "UPDATE socket SET stack_at_fitting = ? WHERE limb_id = ?", bad, cast.dov.limb_id)
    cast.dov.sync(cast.dov.checkin(today))
    wound(cast, today)
    assert cast.ida.get("/api/clinic/worklist").status_code == 200
    background.sweep(mailed)
    clock.forward(minutes=3)
    background.sweep(mailed)
    assert len(box.mail) == 1
    listed = cast.ida.get("/api/clinic/worklist").get_json()
    assert listed["limbs"][0]["limb_id"] == cast.anouk.limb_id
    assert listed["failing"] >= 1
    assert [one["limb_id"] for one in failing(cast) if one["what"] == "limb"] == [cast.dov.limb_id]
    tried = failing(cast)[0]["tries"]
    for _ in range(3):
        background.sweep(mailed)
    assert failing(cast)[0]["tries"] == tried
    sql(settings, "ida", "UPDATE socket SET stack_at_fitting = '[]' WHERE limb_id = ?", cast.dov.limb_id)
    clock.forward(hours=3)
    background.sweep(mailed)
    assert [one for one in failing(cast) if one["what"] == "limb"] == []


def test_two_hundred_limbs_that_can_not_be_assessed_do_not_take_every_place_in_the_round(
    cast: Cast, settings: Settings, clock: Clock, today: date, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("plytide.work.reassess.BATCH", 1)
    clock.forward(hours=-8)
    bad = '[{"levels": 7}]'
    sql(settings, "ida", "UPDATE socket SET stack_at_fitting = ? WHERE limb_id = ?", bad, cast.dov.limb_id)
    cast.dov.sync(cast.dov.checkin(today))
    clock.forward(minutes=1)
    wound(cast, today)
    for _ in range(8):
        background.sweep(settings)
    assert sql(settings, "ida", "SELECT count(*) FROM stale WHERE limb_id = ?", cast.anouk.limb_id) == [(0,)]


def test_a_link_that_can_not_be_sent_holds_up_no_other_link(
    cast: Cast, settings: Settings, inbox: tuple[Inbox, str]
) -> None:
    box, url = inbox
    mailed = replace(settings, smtp_url=url, public_url="https://plytide.example")
    cast.app.config["SETTINGS"] = replace(mailed, sweep_seconds=2)
    sql(settings, "teodor", "UPDATE staff SET mail = 'boss@' || char(10) WHERE login = 'teodor'")
    sql(settings, "ida", "UPDATE staff SET mail = 'ida@clinic.example' WHERE login = 'ida'")
    for login in ("teodor", "ida"):
        assert cast.nobody.post("/api/clinic/password-mail", {"login": login}).status_code in (200, 202)
    background.sweep(cast.app.config["SETTINGS"])
    assert [message["To"] for message in box.mail] == ["ida@clinic.example"]


def test_what_fails_is_in_the_figures(
    cast: Cast, settings: Settings, inbox: tuple[Inbox, str], clock: Clock, today: date
) -> None:
    sql(settings, "ida", "UPDATE clinic SET settings = json_set(settings, '$.mail', 'boss@')")
    mailed = replace(settings, smtp_url=inbox[1])
    clock.forward(hours=-8)
    wound(cast, today)
    background.sweep(mailed)
    clock.forward(minutes=3)
    background.sweep(mailed)
    said = cast.nobody.get("/metrics").get_data(as_text=True)
    assert "plytide_mail_failing 1.0" in said and "plytide_limbs_failing 0.0" in said
