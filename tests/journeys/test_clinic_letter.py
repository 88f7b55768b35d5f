"""A letter to the physician: filled, read, mended, kept, printed; and the clinic's own words for it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from playwright.sync_api import Page, expect

from tests.actors import checkin
from tests.journeys.clinic import RULES, faults, logged, sign_in, to
from tests.journeys.phones import Clinic

pytestmark = pytest.mark.journey

NAME = "Ελένη فاطمة Wray"


def looked_at(page: Page) -> None:
    for theme, rules in RULES.items():
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        assert faults(page, *rules) == []
    page.set_viewport_size({"width": 320, "height": 700})
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    page.set_viewport_size({"width": 1280, "height": 800})


def test_a_letter_to_the_physician_is_written_kept_printed_and_replaced(clinic: Clinic, desk_page: Page) -> None:
    story = [checkin("", date.today() - timedelta(days=back), comfort=7) for back in (3, 2, 1)]
    limb_id = logged(clinic, NAME, *story, physician="Dr Ilse Wren")
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    to(page, server.url, f"limbs/{limb_id}")
    page.get_by_role("link", name="a letter", exact=True).click()
    text, said = page.get_by_label("Letter", exact=True), page.locator("#said")
    expect(page.get_by_label("To", exact=True)).to_have_value("Dr Ilse Wren")
    assert text.input_value().startswith("Dear Dr Ilse Wren,\n")
    expect(page.locator(".heed")).to_contain_text("the newest tape measurement")
    assert "Tape by the clinic: not measured (as of " in text.input_value()
    looked_at(page)

    # What is typed is asked about before it is left, and a figure without its date before it is kept.
    text.fill(f"{text.input_value()}\nComfort is 7 of 10.")
    page.get_by_role("link", name="To the payer").click()
    page.get_by_role("dialog").get_by_role("button", name="Stay here").click()
    keep = page.get_by_role("button", name="Keep it, then print")
    keep.click()
    expect(page.locator("#fault-text")).to_contain_text("“Comfort is 7 of 10.” has a figure and no date")
    expect(text).to_be_focused()
    keep.click()
    expect(said).to_contain_text("The letter is kept")
    expect(page.locator(".letter-text")).to_contain_text("Comfort is 7 of 10.")
    expect(page.locator("footer")).to_contain_text("not an order")
    looked_at(page)
    page.emulate_media(media="print")
    expect(page.locator(".buttons")).to_be_hidden()
    expect(page.locator(".no-print")).to_be_hidden()
    page.emulate_media(media="screen")

    # Another takes its place, by keyboard.
    link = page.get_by_role("link", name="Write one in its place")
    link.focus()
    page.keyboard.press("Enter")
    expect(page.locator(".heed")).to_contain_text("This takes the place of the letter of")
    assert "Comfort is 7 of 10." in text.input_value()
    text.fill("On 3 May 2026 comfort was 7 of 10.")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("article")).to_contain_text("This letter takes the place of ours of")
    to(page, server.url, f"limbs/{limb_id}/letter")
    expect(page.locator(".notes li")).to_have_count(2)
    expect(page.locator(".notes")).to_contain_text("another took its place")

    # The clinic's own words, with a field put in from the list.
    page.get_by_role("link", name="The clinic’s templates").click()
    own = page.get_by_label("To the physician")
    own.fill("Of ")
    page.get_by_role("button", name="{person}").click()
    page.keyboard.type(": {mood}.")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator("#fault-text")).to_contain_text("There is no field “mood”")
    own.fill("Of {person}: {comfort}.")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(said).to_contain_text("Kept. Letters written from now on")
    expect(page.get_by_role("button", name="Put Plytide’s words back…")).to_be_visible()
    looked_at(page)
    to(page, server.url, f"limbs/{limb_id}/letter")
    assert text.input_value().startswith(f"Of {NAME}: 7.0 (mean of 3")
    to(page, server.url, "letter-templates")
    page.get_by_role("button", name="Put Plytide’s words back…").click()
    page.get_by_role("dialog").get_by_role("button", name="Put them back").click()
    expect(said).to_contain_text("Plytide’s words are back")
