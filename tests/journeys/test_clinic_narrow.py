"""Every screen of the clinic on a small telephone: no scrolling sideways, nothing too small to touch."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.actors import Demo
from tests.journeys.clinic import to, to_demo

pytestmark = pytest.mark.journey

# A target of at least 24 × 24 px (WCAG 2.2, 2.5.8); a box inside a label is as large as the label, and links in
# the run of a sentence are excepted.
TOO_SMALL = """() => [...document.querySelectorAll('#bar a, #bar button, #screen button, #screen a, #screen select, #screen label.check')]
  .filter((one) => {
    const { width, height } = one.getBoundingClientRect();
    return width > 0 && (width < 24 || height < 24) && !one.closest('p:not(.buttons)');
  }).map((one) => `${one.tagName} ${one.textContent.trim().slice(0, 30)}`)"""

STICKS_OUT = """() => document.documentElement.scrollWidth <= innerWidth ? [] : [...document.querySelectorAll('body *')]
  .filter((one) => one.getBoundingClientRect().right > innerWidth + 1)
  .map((one) => `${one.tagName}.${one.className}: ${one.textContent.trim().slice(0, 40)}`)"""


def test_at_320_pixels_every_screen_fits_and_can_be_touched(demo: Demo, desk_page: Page) -> None:
    page = desk_page
    page.set_viewport_size({"width": 320, "height": 640})
    to_demo(page, demo.about)
    row = page.locator(".row").first
    limb = row.get_attribute("data-limb")
    wrong = {}
    for path in (
        "today", "people", "people/new", f"limbs/{limb}", f"limbs/{limb}/socket", f"limbs/{limb}/measure",
        f"limbs/{limb}/plan", f"limbs/{limb}/visit", f"limbs/{limb}/payer", "chair-time", "own-record",
        "settings", "me",
    ):  # fmt: skip
        to(page, demo.url, path)
        expect(page.locator("#screen h1").first).to_be_visible()
        over = page.evaluate(STICKS_OUT)
        small = page.evaluate(TOO_SMALL)
        if over or small:
            wrong[path] = (over, small)
    assert wrong == {}
