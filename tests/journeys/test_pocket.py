"""The clinic's plan in the pocket: written at the desk, read on the phone without a network, hidden by danger."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.clinic import RULES, faults, sign_in, to
from tests.journeys.phones import LEFT, Clinic, Phone
from tests.journeys.test_phone_taps import GAPS, slid, steady, tapped

pytestmark = pytest.mark.journey


@pytest.fixture
def phone(new_phone: Callable[..., Phone]) -> Phone:
    """One that takes its time over a screen just shown, as in a hand."""
    return new_phone(hasty=False)


LOOK = os.environ.get("PLYTIDE_LOOK")  # a folder for pictures, where somebody wants to see the pages
PLAN = {
    "loose": "Add one thin sock.\nAt 10-ply call us.",
    "tight": "Take one sock off. Rest ten minutes.",
    "wear": "Take it off each hour and look.",
    "care": "Wash the liner each night with mild soap.",
    "bring": "Your liner, your socks and your shoes.",
}


def looked_at(page: Page, name: str) -> None:
    for theme, rules in RULES.items():
        page.emulate_media(color_scheme=theme, reduced_motion="reduce")  # type: ignore[arg-type]
        assert faults(page, *rules) == []
        for width, height in ((360, 740), (320, 640)):
            page.set_viewport_size({"width": width, "height": height})
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            if LOOK:
                page.screenshot(path=Path(str(LOOK)) / f"{name}-{width}-{theme}.png", full_page=True)
    page.set_viewport_size({"width": 360, "height": 740})


def write(clinic: Clinic, limb_id: str, **said: Any) -> None:
    clinic.staff.call("PATCH", f"/api/clinic/limbs/{limb_id}/pocket", said)


def test_the_clinic_writes_changes_and_takes_back_what_a_phone_shows(clinic: Clinic, desk_page: Page) -> None:
    person = clinic.person("Pia Loom")
    (limb_id,) = clinic.limbs(person)
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    to(page, server.url, f"limbs/{limb_id}")
    page.get_by_role("link", name="the pocket plan").click()
    page.get_by_role("button", name="Keep it for the phone").click()
    expect(page.get_by_role("heading", name="Pia Loom")).to_be_visible()  # nothing written, nothing kept
    expect(page.get_by_text("Nothing is written for their phone.")).to_be_visible()

    page.get_by_role("link", name="Write it").click()
    page.get_by_label("When it is loose").fill(PLAN["loose"])
    page.get_by_label("Liner and skin").fill("<b>اغسل البطانة</b>")
    page.get_by_label("Bring to the visit").fill("x" * 400)  # the box takes no more than a phone can show
    expect(page.get_by_label("Bring to the visit")).to_have_value("x" * 300)
    page.get_by_label("Bring to the visit").fill(PLAN["bring"])
    assert faults(page) == []
    for theme in ("light", "dark") if LOOK else ():
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        page.screenshot(path=Path(str(LOOK)) / f"pocket-desk-{theme}.png", full_page=True)
    page.get_by_role("button", name="Keep it for the phone").click()
    expect(page.locator(".pocket")).to_contain_text("At 10-ply call us.")
    expect(page.locator(".pocket")).to_contain_text("<b>اغسل البطانة</b>")

    page.get_by_role("link", name="Change it").click()
    page.get_by_label("When it is loose").fill("Call us first.")
    page.get_by_role("button", name="Keep it for the phone").click()
    expect(page.locator(".pocket")).to_contain_text("Call us first.")
    to(page, server.url, f"limbs/{limb_id}/visit")
    expect(page.locator(".sheet .pocket")).to_contain_text("Call us first.")

    to(page, server.url, f"limbs/{limb_id}/pocket")
    page.get_by_text("Before: 1").click()
    expect(page.locator(".notes .pocket")).to_contain_text("At 10-ply call us.")
    page.get_by_role("button", name="Take the plan back").click()
    page.get_by_role("button", name="Take it back", exact=True).click()
    expect(page.get_by_text("Taken back by")).to_be_visible()


def test_loose_is_answered_in_the_clinics_words_without_a_network_and_never_beside_danger(
    clinic: Clinic, installed: Phone
) -> None:
    phone = installed
    person = clinic.person("Odo Vance")
    (limb_id,) = clinic.limbs(person)
    write(clinic, limb_id, **PLAN)
    phone.linked(clinic.code(person))
    phone.works_offline()
    expect(phone.page.locator("#pocket-open")).to_be_visible()
    phone.offline()
    phone.log(fit="loose")
    card = phone.page.locator("#pocket-loose")
    expect(card).to_contain_text("Add one thin sock.")
    expect(card).to_contain_text("Your clinic wrote this")
    looked_at(phone.page, "pocket-saved")
    phone.tap("pocket-open")
    for words in PLAN.values():
        phone.says(words.splitlines()[0])
    looked_at(phone.page, "pocket-page")
    phone.tap("back", "done")

    # A blister later that day: the words to act on are gone, from the save and from the page.
    phone.tap("log-0", "none", "same", "fit-loose", "next", "comfort-6", "skin-found", "place-calf", "finding-blister")
    phone.tap("next", "save")
    expect(phone.page.locator("#advice")).to_be_visible()
    expect(phone.page.locator("#pocket-loose")).to_have_count(0)
    phone.tap("done")
    expect(phone.page.locator(f"#advice-{limb_id}")).to_be_visible()
    phone.tap("pocket-open")
    expect(phone.page.locator(f"#advice-{limb_id}")).to_be_visible()
    phone.says(PLAN["care"])
    expect(phone.page.locator("body")).not_to_contain_text("Add one thin sock.")
    expect(phone.page.locator("body")).not_to_contain_text("Take one sock off.")
    looked_at(phone.page, "pocket-danger")


def test_the_clock_of_a_new_socket_says_until_when_and_is_there_after_a_reload(clinic: Clinic, phone: Phone) -> None:
    person = clinic.person("Ines Tarn")
    (limb_id,) = clinic.limbs(person)
    schedule = [{"day": n + 1, "hours": hours} for n, hours in enumerate((1, 1, 2, 2, 3, 4, 5, 6, 7, 8))]
    socket = {"fitted_on": str(date.today()), "purpose": "definitive", "wear_schedule": schedule}
    clinic.staff.call("POST", f"/api/clinic/limbs/{limb_id}/sockets", socket)
    phone.page.clock.install(time=datetime.now().replace(hour=10))  # an hour on, it is the same day
    phone.linked(clinic.code(person))
    phone.tap("pocket-open")
    phone.says("New socket, day 1")
    phone.tap("worn")
    phone.says("Take it off at")
    expect(phone.page.locator("#worn")).to_have_text("It comes off now")
    looked_at(phone.page, "pocket-clock")
    phone.page.reload()
    phone.page.wait_for_selector("html[data-ready=yes]")
    phone.says("Take it off at")
    phone.tap("pocket-open")
    phone.page.clock.fast_forward("01:05:00")
    phone.says("The time for today is up.")
    phone.page.click("#worn")
    phone.says("Worn today: 1:0")


def test_a_trembling_thumb_puts_the_leg_on_once(clinic: Clinic, phone: Phone) -> None:
    person = clinic.person("Ines Tarn")
    (limb_id,) = clinic.limbs(person)
    schedule = [{"day": 1, "hours": 2}]
    socket = {"fitted_on": str(date.today()), "purpose": "definitive", "wear_schedule": schedule}
    clinic.staff.call("POST", f"/api/clinic/limbs/{limb_id}/sockets", socket)
    phone.linked(clinic.code(person))
    steady(phone)
    phone.page.locator("#pocket-open").tap()
    phone.page.clock.run_for(700)
    for gap, then in zip(GAPS, ("comes off", "goes on") * 2, strict=True):
        tapped(phone, "#worn", gap)
        expect(phone.page.locator("#worn")).to_contain_text(then)
        slid(phone, "#worn")
        expect(phone.page.locator("#worn")).to_contain_text(then)
        phone.page.clock.run_for(700)


def test_two_limbs_have_a_page_each_and_a_caregiver_of_who_writes_alone_has_none(
    clinic: Clinic, new_phone: Any
) -> None:
    person = clinic.person("Ada Moor", (LEFT, LEFT | {"side": "right"}))
    left, right = clinic.limbs(person)
    write(clinic, right, tight="Rest the right one.")
    phone = new_phone()
    phone.linked(clinic.code(person))
    phone.tap("pocket-open")
    phone.says("Nothing yet.")
    phone.tap(f"limb-{right}")
    phone.says("Rest the right one.")

    alone = clinic.person("Noor Vale", born_on="2012-04-02", own_log=True)
    (limb_id,) = clinic.limbs(alone)
    write(clinic, limb_id, tight="Only for Noor.")
    kitchen = new_phone()
    kitchen.open()
    kitchen.join(clinic.code(alone, role="caregiver"))
    expect(kitchen.page.locator("#pocket-open")).to_have_count(0)


def test_in_arabic_the_page_stands_the_other_way_and_the_clinics_words_their_own(clinic: Clinic, phone: Phone) -> None:
    person = clinic.person("Zahra Fenn")
    (limb_id,) = clinic.limbs(person)
    write(clinic, limb_id, **PLAN | {"care": "اغسل البطانة كل ليلة."})
    phone.linked(clinic.code(person))
    phone.tap("nav-more")
    phone.page.select_option("#language", "ar") if phone.page.locator("select#language").count() else phone.tap(
        "language-ar"
    )
    expect(phone.page.locator("html")).to_have_attribute("dir", "rtl")
    phone.tap("nav-home", "pocket-open")
    assert phone.page.evaluate("getComputedStyle(document.querySelector('.clinic-words')).direction") == "ltr"
    looked_at(phone.page, "pocket-arabic")
