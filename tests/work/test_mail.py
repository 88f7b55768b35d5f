"""Urgent matters reach the clinic by mail through a real SMTP listener, and the mail says nothing about anybody."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest

from plytide.settings import Settings
from plytide.work import background
from tests.actors import Cast, Clock
from tests.post import Inbox, listening


@pytest.fixture
def inbox() -> Iterator[tuple[Inbox, str]]:
    with listening() as (box, url):
        yield box, url


def wound(cast: Cast, today: date) -> None:
    skin = [{"place": "end of the limb", "finding": "open_skin", "redness_minutes": None}]
    cast.anouk.sync(cast.anouk.checkin(today, skin=skin, note="canary-note"))


def test_an_urgent_matter_is_mailed_once_without_a_name_or_a_finding(
    cast: Cast, settings: Settings, inbox: tuple[Inbox, str], clock: Clock, today: date
) -> None:
    box, url = inbox
    made = cast.ida.patch("/api/clinic/settings", {"mail": "desk@clinic.example"})
    assert made.status_code == 200
    mailed = replace(settings, smtp_url=url, public_url="https://plytide.example")
    clock.forward(hours=-8)  # before the digest's hour
    wound(cast, today)
    wound(cast, today)
    background.sweep(mailed)
    assert box.mail == []  # urgent matters that come together go out together
    clock.forward(minutes=3)
    background.sweep(mailed)
    background.sweep(mailed)
    assert [message["To"] for message in box.mail] == ["desk@clinic.example"]
    text = box.mail[0].as_string()
    assert "https://plytide.example/clinic/" in text
    for word in ("Anouk", "skin", "open_skin", "canary-note", cast.anouk.limb_id):
        assert word not in text


def test_a_mail_server_that_is_down_delays_the_mail_and_never_a_round(
    cast: Cast, settings: Settings, inbox: tuple[Inbox, str], clock: Clock, today: date
) -> None:
    box, url = inbox
    cast.ida.patch("/api/clinic/settings", {"mail": "desk@clinic.example"})
    mailed = replace(settings, smtp_url=url)
    clock.forward(hours=-8)
    box.down = True
    wound(cast, today)
    background.sweep(mailed)
    clock.forward(minutes=3)
    background.sweep(mailed)
    worklist = cast.ida.get("/api/clinic/worklist").get_json()
    assert worklist["limbs"][0]["urgency"] == 3
    box.down = False
    background.sweep(mailed)
    assert box.mail == []  # waits before it tries again
    clock.forward(minutes=2)
    background.sweep(mailed)
    assert len(box.mail) == 1


def test_a_digest_a_day_counts_and_names_nobody(
    cast: Cast, settings: Settings, inbox: tuple[Inbox, str], clock: Clock, today: date
) -> None:
    box, url = inbox
    cast.ida.patch("/api/clinic/settings", {"mail": "desk@clinic.example"})
    mailed = replace(settings, smtp_url=url)
    cast.anouk.sync(cast.anouk.checkin(today, falls=1))
    for _ in range(3):
        background.sweep(mailed)
    assert [message["Subject"] for message in box.mail] == ["Plytide: Today's list"]
    assert "1 to note" in box.mail[0].get_content()
    clock.forward(days=1)
    background.sweep(mailed)
    assert len(box.mail) == 2
