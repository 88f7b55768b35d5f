"""A clinic brings its caseload: a file, its columns, the dry run, the bringing, letters, and all of it taken back."""

from __future__ import annotations

import os

import pytest
from playwright.sync_api import Page, expect

from tests.actors import Demo
from tests.journeys.clinic import faults, to, to_demo
from tests.journeys.test_clinic_narrow import STICKS_OUT, TOO_SMALL

pytestmark = pytest.mark.journey

FILE = (
    "Name,Birthday,record_number,side,level\n"
    "Wren Alder,04/05/1961,J1,left,transtibial\n"
    "Moss Birch,30/11/1972,J2,right,transfemoral\n"
    "Finn Cole,31/13/1980,J3,left,transtibial\n"
)


def looked(page: Page, name: str) -> None:
    """No axe finding in the light and the dark; at 320 px nothing sticks out."""
    size = page.viewport_size
    for theme in ("light", "dark"):
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        assert faults(page) == []
        if where := os.environ.get("PLYTIDE_PICTURES"):
            page.screenshot(path=f"{where}/{name}-{theme}.png", full_page=True)
    page.emulate_media(color_scheme="light")
    page.set_viewport_size({"width": 320, "height": 640})
    assert page.evaluate(STICKS_OUT) == []
    assert page.evaluate(TOO_SMALL) == []
    if where := os.environ.get("PLYTIDE_PICTURES"):
        page.screenshot(path=f"{where}/{name}-320.png", full_page=True)
    page.set_viewport_size(size or {"width": 1280, "height": 800})


def test_a_caseload_is_brought_and_taken_back(demo: Demo, desk_page: Page) -> None:
    page = desk_page
    to_demo(page, demo.about)
    to(page, demo.url, "people")
    page.get_by_role("link", name="Bring a caseload").click()
    chosen = {"name": "people.csv", "mimeType": "text/csv", "buffer": FILE.encode()}
    page.get_by_label("A CSV file").set_input_files(chosen)  # type: ignore[arg-type]
    page.get_by_label("What Name is").select_option("name")
    page.get_by_label("What Birthday is").select_option("born_on")
    page.get_by_role("button", name="Show what it would make").click()
    page.get_by_label("day, month, year").check()
    looked(page, "columns")
    page.get_by_role("button", name="Show what it would make").click()
    expect(page.locator("#wrong-rows")).to_contain_text("Row 4 Birthday")
    expect(page.get_by_text("2 people, 2 limbs")).to_be_visible()
    looked(page, "rows")
    page.get_by_role("button", name="Bring them").click()
    expect(page.locator("#said")).to_contain_text("2 people, 2 limbs")
    page.get_by_role("button", name="Letters with codes").click()
    expect(page.locator(".join-letter")).to_have_count(2)
    expect(page.locator(".join-letter svg path").first).to_be_attached()
    looked(page, "letters")
    page.emulate_media(media="print")
    assert [page.locator(".join-letter").first.is_visible(), page.locator(".before").is_visible()] == [True, False]
    page.emulate_media(media="screen")
    page.get_by_role("button", name="take it all back").click()
    page.get_by_role("button", name="Take it back", exact=True).click()
    expect(page.locator("#said")).to_contain_text("Taken back")
    expect(page.locator(".before")).to_contain_text("taken back")
