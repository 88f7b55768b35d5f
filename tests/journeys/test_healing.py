"""A place of skin, from the day it was found to the day it healed: asked after on the phone, followed at the desk."""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from PIL import Image, ImageDraw
from playwright.sync_api import Page, expect

from tests.journeys.clinic import RULES, faults, sign_in, to
from tests.journeys.phones import Clinic, Phone
from tests.journeys.test_phone_taps import GAPS, KEPT, KEYS, SOCK, begin, slid, steady, tapped, without_times
from tests.journeys.test_pocket import looked_at

pytestmark = pytest.mark.journey

LOOK = os.environ.get("PLYTIDE_LOOK")
ASKED = "#healing-limb_end"


def drawn(radius: int) -> bytes:
    """An invented picture: a spot on something like skin."""
    picture = Image.new("RGB", (480, 480), (214, 178, 152))
    at = (240 - radius, 240 - radius, 240 + radius, 240 + radius)
    ImageDraw.Draw(picture).ellipse(at, fill=(178, 84, 78))
    out = io.BytesIO()
    picture.save(out, "JPEG")
    return out.getvalue()


def photographed(phone: Phone, radius: int) -> None:
    phone.page.set_input_files("#photo", {"name": "skin.jpg", "mimeType": "image/jpeg", "buffer": drawn(radius)})
    expect(phone.page.locator("#unphoto-0")).to_be_visible()


def on_day(phone: Phone, back: int) -> None:
    """The phone's own clock, some days ago."""
    phone.page.clock.set_fixed_time(datetime.now() - timedelta(days=back))
    phone.page.reload()
    phone.page.wait_for_selector("html[data-ready=yes]")


def until_sent(phone: Phone, clinic: Clinic, limb_id: str, entries: int, photos: int) -> None:
    """What was written is with the clinic, its photos too."""

    def there() -> bool:
        known = clinic.checkins(limb_id)
        kept = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}/photos")["photos"]
        return (len(known), len(kept)) == (entries, photos)

    for _ in range(600):
        if there():
            return
        phone.page.wait_for_timeout(250)
    raise AssertionError("not all of it arrived")


def test_a_blister_is_asked_after_until_it_is_gone_and_the_clinic_closes_it(
    clinic: Clinic, phone: Phone, desk_page: Page
) -> None:
    person = clinic.person("Mara Quill")
    (limb_id,) = clinic.limbs(person)
    phone.linked(clinic.code(person))
    on_day(phone, 3)
    # The day it is found: nothing is asked after.
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-6")
    expect(phone.page.locator(ASKED)).to_have_count(0)
    phone.tap("skin-found", "place-limb_end", "finding-blister")
    photographed(phone, 60)
    phone.tap("next", "save")
    expect(phone.page.locator("#advice")).to_be_visible()
    until_sent(phone, clinic, limb_id, 1, 1)

    # The next day: it is asked after beside its photo; the same is found again, so the advice is the same.
    on_day(phone, 2)
    phone.tap("log-0", "none-same", "fit-good", "comfort-6")
    expect(phone.page.locator(ASKED)).to_contain_text("Yesterday: Blister (End of the limb). How is it now?")
    expect(phone.page.locator(f"{ASKED} img")).to_have_count(1)
    expect(phone.page.locator("#left-off")).to_contain_text("Did you leave it off?")
    phone.tap("left-off-no")
    looked_at(phone.page, "healing-asked")
    phone.tap("healing-limb_end-better")
    expect(phone.page.locator("#advice.stop_wear")).to_be_visible()
    expect(phone.page.locator("#finding-blister")).to_have_attribute("aria-pressed", "true")
    photographed(phone, 30)
    expect(phone.page.locator("#left-off")).to_be_visible()  # what is found today takes no answer away
    looked_at(phone.page, "healing-better")
    phone.tap("next")
    phone.says("End of the limb: Better")
    phone.says("Left the socket off")
    phone.tap("save", "done", "nav-story")
    phone.says("Skin you follow")
    expect(phone.page.locator(".photos img")).to_have_count(2)
    looked_at(phone.page, "healing-story")
    until_sent(phone, clinic, limb_id, 2, 2)

    # Gone, and looked all round: a clear look. Then a second one; after that nobody asks.
    on_day(phone, 1)
    phone.tap("log-0", "none-same", "fit-good", "comfort-8", "healing-limb_end-gone")
    phone.tap("skin-fine")
    phone.says("End of the limb: Gone")
    phone.tap("save")
    until_sent(phone, clinic, limb_id, 3, 2)

    # At the desk: the photos side by side; a size; healed before the second clear look is not done yet.
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    to(page, server.url, f"limbs/{limb_id}")
    page.get_by_role("slider", name="Day").focus()
    page.keyboard.press("ArrowLeft")
    page.get_by_role("button", name="Open the check-ins").click()
    expect(page.locator(".evidence")).to_contain_text("Left the socket off as advised")
    page.get_by_role("link", name="Each place over time").click()
    expect(page.locator(".looks img")).to_have_count(2)
    expect(page.locator(".looks li")).to_have_count(3)
    expect(page.locator(".looks")).to_contain_text("better")
    page.get_by_role("button", name="Enter a size…").click()
    page.get_by_label("Length, mm").fill("much")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.get_by_role("alert")).to_be_visible()
    page.get_by_label("Length, mm").fill("12,5")
    page.get_by_label("Width, mm").fill("8")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator(".thread")).to_contain_text("12.5 × 8 mm")
    page.get_by_role("button", name="It healed…").click()
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator(".thread")).to_contain_text("one clear look so far")
    for theme, rules in RULES.items():
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        assert faults(page, *rules) == []
        for width, height in ((1280, 800), (390, 844)) if LOOK else ():
            page.set_viewport_size({"width": width, "height": height})
            page.screenshot(path=Path(str(LOOK)) / f"healing-desk-{width}-{theme}.png", full_page=True)
    page.set_viewport_size({"width": 1280, "height": 800})

    on_day(phone, 0)
    phone.tap("log-0", "none-same", "fit-good", "comfort-8")
    expect(phone.page.locator(ASKED)).to_be_visible()
    phone.tap("skin-fine", "save")
    until_sent(phone, clinic, limb_id, 4, 2)
    phone.tap("done", "log-0", "none-same", "fit-good", "comfort-8")
    expect(phone.page.locator("#skin-fine")).to_be_visible()
    to(page, server.url, f"limbs/{limb_id}")
    to(page, server.url, f"limbs/{limb_id}/healing")
    expect(page.locator(".thread.done")).to_contain_text("2 clear looks")


def test_a_trembling_thumb_on_how_a_place_is_now_keeps_what_one_tap_keeps(
    clinic: Clinic, new_phone: Callable[..., Phone]
) -> None:
    phone = new_phone(hasty=False)
    person = clinic.person("Ula Brandt")
    (limb_id,) = clinic.limbs(person)
    phone.linked(clinic.code(person))
    on_day(phone, 1)
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap(
        "next", "fit-good", "comfort-6", "skin-found", "place-limb_end", "finding-blister", "next", "save", "done"
    )
    steady(phone)
    phone.context.route("**/api/**", lambda route: route.abort())
    said = {"stack": [SOCK], "fit": "good", "comfort": 8}
    begin(phone, limb_id, "skin", said)
    keys = [key for key in phone.page.evaluate(KEYS) if key.startswith(("#healing-", "#left-off-"))]
    assert len(keys) == 7
    for i, key in enumerate(keys):
        begin(phone, limb_id, "skin", said)
        before = without_times(phone.page.evaluate(KEPT))
        slid(phone, key)
        assert without_times(phone.page.evaluate(KEPT)) == before, key  # 12 px are no tap
        once = tapped(phone, key, None)
        assert once != before, key
        begin(phone, limb_id, "skin", said)
        assert tapped(phone, key, GAPS[i % len(GAPS)]) == once, key


def test_worse_opens_what_it_is_now_and_a_trembling_thumb_changes_nothing(
    clinic: Clinic, new_phone: Callable[..., Phone]
) -> None:
    person = clinic.person("Ula Brandt")
    phone = new_phone(hasty=False)
    phone.linked(clinic.code(person))
    on_day(phone, 1)
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-6", "skin-found", "place-limb_end", "finding-redness", "minutes-5")
    phone.tap("next", "save", "done")
    on_day(phone, 0)
    phone.tap("log-0", "none-same", "fit-good", "comfort-6")
    phone.page.dblclick("#healing-limb_end-worse", delay=20)
    expect(phone.page.locator("#healing-limb_end-worse")).to_have_attribute("aria-pressed", "true")
    phone.page.wait_for_timeout(700)
    phone.tap("next")  # redness must still say how long it lasted
    phone.says("Say how long the red lasted")
    phone.tap("finding-open_skin")
    expect(phone.page.locator("#advice.stop_wear")).to_be_visible()
    phone.tap("minutes-unknown", "next")
    phone.says("End of the limb: Worse")
    # All the rest is fine: what is worse stays said, and its advice with it.
    phone.tap("change-skin", "skin-fine")
    expect(phone.page.locator(".answers [data-field=healing]")).to_contain_text("End of the limb: Worse")
    expect(phone.page.locator(".answers [data-field=skin]")).to_contain_text("Open skin")
    expect(phone.page.locator("#advice.stop_wear")).to_be_visible()
    # Gone, and nothing said of the rest: kept as gone, and no look.
    phone.tap("change-skin", "finding-open_skin", "healing-limb_end-gone", "next")
    expect(phone.page.locator(".answers [data-field=healing]")).to_contain_text("End of the limb: Gone")
    expect(phone.page.locator(".answers [data-field=skin]")).to_contain_text("No answer")
    looked_at(phone.page, "healing-gone-only")
