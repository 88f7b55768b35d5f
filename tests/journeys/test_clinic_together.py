"""Two of the clinic at once, on screens of any width."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.clinic import logged, sign_in
from tests.journeys.phones import Clinic
from tests.journeys.test_clinic_acting import blistered, opened

pytestmark = pytest.mark.journey

#: What sticks out to the right. A phone zooms out when something does, and `innerWidth` grows with it: `screen` does
#: not.
WIDE = """() => document.documentElement.scrollWidth <= screen.width ? [] : [...document.querySelectorAll('body *')]
  .filter((one) => one.getBoundingClientRect().right > screen.width + 1)
  .map((one) => `${one.tagName}.${one.className}: ${one.textContent.trim().slice(0, 40)}`)"""


def test_what_a_colleague_has_closed_is_told_and_the_list_is_fetched_anew(clinic: Clinic, desk_page: Page) -> None:
    limb_id = logged(clinic, "Greta Holm", *blistered())
    page = desk_page
    opened(page, clinic, "Greta")
    (signal,) = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["signals"]
    clinic.staff.call("POST", f"/api/clinic/signals/{signal['id']}/close", {"outcome": "Seen and adjusted"})
    page.keyboard.press("a")
    page.get_by_role("dialog").get_by_role("button", name="Acknowledge").click()
    expect(page.locator("#said")).to_contain_text("This was closed in the meantime.")
    expect(page.locator(".row .why p")).not_to_contain_text("Blister")
    (after,) = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["signals"]
    assert after["status"] == "closed"


def test_who_keeps_a_form_second_is_told_and_means_it_when_it_is_kept_again(clinic: Clinic, desk_page: Page) -> None:
    limb_id = logged(clinic, "Ilka Two", *blistered())
    page, server = desk_page, clinic.server
    person = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["person"]["id"]
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/people/{person}/edit")
    page.get_by_label("Physician", exact=False).first.fill("Dr Second")
    clinic.staff.call("PATCH", f"/api/clinic/people/{person}", {"physician": "Dr First"})
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_text("A colleague changed this meanwhile").first).to_be_visible()
    assert clinic.staff.call("GET", f"/api/clinic/people/{person}")["physician"] == "Dr First"
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("#screen")).to_have_attribute("data-shows", f"people/{person}")
    assert clinic.staff.call("GET", f"/api/clinic/people/{person}")["physician"] == "Dr Second"


def test_a_long_name_and_a_long_word_fit_a_narrow_screen(clinic: Clinic, phone_page: Page) -> None:
    name = "Aagenwolfbert" * 4  # first in the list, whoever else the other journeys added
    limb_id = logged(clinic, name, *blistered())
    page, server = phone_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    person = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["person"]["id"]
    for path in (
        "today",
        "people",
        f"people/{person}",
        f"limbs/{limb_id}",
        f"limbs/{limb_id}/plan",
        f"limbs/{limb_id}/visit",
    ):
        page.goto(f"{server.url}/clinic/#/{path}")
        expect(page.locator("#screen")).to_have_attribute("data-shows", path)
        expect(page.get_by_text(name).first).to_be_visible()
        wide = page.evaluate(WIDE)
        assert wide == [], path
