"""What is typed or looked at is not lost: signed out over a form, leaving one, acting beside a note, coming back."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.actors import Demo
from tests.journeys.clinic import faults, logged, sign_in, to, to_demo
from tests.journeys.phones import Clinic
from tests.journeys.test_clinic_acting import blistered

pytestmark = pytest.mark.journey


def measuring(page: Page, clinic: Clinic, name: str) -> str:
    """Signed in, with one circumference typed on the measurement screen; the limb."""
    (limb_id,) = clinic.limbs(clinic.person(name))
    server = clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}/measure")
    page.locator("#height-0").fill("40")
    page.locator("#girth-0").fill("298")
    return limb_id


def test_a_session_that_ends_over_a_form_covers_it_and_loses_nothing(clinic: Clinic, desk_page: Page) -> None:
    page, server = desk_page, clinic.server
    limb_id = measuring(page, clinic, "Lorne Abbey")
    page.context.clear_cookies()
    page.get_by_role("button", name="Keep the measurement").click()
    again = page.get_by_role("dialog", name="Sign in again")
    expect(again).to_be_visible()
    expect(page.locator("#girth-0")).to_be_hidden()
    assert faults(page) == []
    page.keyboard.press("Escape")
    expect(again).to_be_visible()
    again.get_by_label("Sign-in name").fill(server.login)
    again.get_by_label("Password").fill(server.password)
    again.get_by_role("button", name="Sign in").click()
    expect(page.locator("#girth-0")).to_have_value("298")
    page.get_by_role("button", name="Keep the measurement").click()
    expect(page.locator("#said")).to_contain_text("The measurement is kept.")
    (kept,) = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["measurements"]
    assert [level["circumference_mm"] for level in kept["levels"]] == [298]


def test_a_session_that_ended_on_the_way_to_a_screen_goes_on_there(clinic: Clinic, desk_page: Page) -> None:
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    to(page, server.url, "me")  # today's list looks at a row by itself, and would have met the end first
    page.context.clear_cookies()
    page.get_by_role("link", name="Chair time").click()
    again = page.get_by_role("dialog", name="Sign in again")
    again.get_by_label("Sign-in name").fill(server.login)
    again.get_by_label("Password").fill(server.password)
    again.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Chair time")).to_be_visible()


def test_a_half_filled_form_is_asked_about_before_it_is_left(clinic: Clinic, desk_page: Page) -> None:
    page = desk_page
    measuring(page, clinic, "Della Crane")
    page.get_by_role("link", name="People").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("What you typed on this page is not kept yet.")
    dialog.get_by_role("button", name="Stay here").click()
    expect(page.locator("#girth-0")).to_have_value("298")
    assert page.url.endswith("/measure")
    page.get_by_role("link", name="People").click()
    page.get_by_role("dialog").get_by_role("button", name="Leave").click()
    expect(page.get_by_role("heading", name="People")).to_be_visible()
    page.go_back()
    page.get_by_role("link", name="Cancel").click()
    expect(page.get_by_role("heading", name="Della Crane")).to_be_visible()


def test_a_note_begun_outlives_an_action_beside_it(clinic: Clinic, desk_page: Page) -> None:
    page, server = desk_page, clinic.server
    limb_id = logged(clinic, "Anselm Reede", *blistered())
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}")
    page.get_by_label("Write a note").fill("Half a thought")
    page.get_by_role("button", name="Acknowledge").click()
    page.get_by_role("dialog").get_by_role("button", name="Acknowledge").click()
    expect(page.locator("#said")).to_contain_text("Acknowledged")
    expect(page.get_by_role("button", name="Acknowledge")).to_have_count(0)
    expect(page.get_by_label("Write a note")).to_have_value("Half a thought")


def test_back_from_a_limb_one_stands_on_its_row(demo: Demo, desk_page: Page) -> None:
    page = desk_page
    to_demo(page, demo.about)
    row = page.locator(".row a.name").nth(12)
    row.focus()
    name = row.inner_text()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(name)
    page.go_back()
    expect(page.locator(".row.chosen a.name")).to_have_text(name)
    expect(page.locator(".row.chosen a.name")).to_be_focused()
    expect(page.locator(".row.chosen")).to_be_in_viewport()
