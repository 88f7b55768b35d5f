"""The morning: whom to call, why, and what to look at, on the demo clinic."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.actors import Demo
from tests.journeys.clinic import RULES, faults, to_demo

pytestmark = pytest.mark.journey


def test_the_most_urgent_comes_first_with_one_sentence_of_why(demo: Demo, desk_page: Page) -> None:
    to_demo(desk_page, demo.about)
    marks = desk_page.eval_on_selector_all(".row", "rows => rows.map(row => Number(row.className.match(/u(\\d)/)[1]))")
    assert len(marks) >= 24
    assert marks == sorted(marks, reverse=True)
    assert marks[0] == 3
    first = desk_page.locator(".row").first
    expect(first.locator(".why p")).not_to_be_empty()
    expect(first.get_by_role("img")).to_have_attribute("aria-label", re.compile("Volume over"))
    expect(desk_page.get_by_role("complementary").locator(".signal").first).to_be_visible()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_todays_list_and_a_limb_have_no_fault_axe_can_find(demo: Demo, desk_page: Page, theme: str) -> None:
    desk_page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
    to_demo(desk_page, demo.about)
    assert faults(desk_page, *RULES[theme]) == []
    desk_page.keyboard.press("Enter")
    expect(desk_page.locator("canvas").first).to_be_visible()
    desk_page.get_by_text("Skin and falls as a table").click()
    assert faults(desk_page, *RULES[theme]) == []


def test_the_keyboard_alone_walks_the_list_and_opens_a_story(demo: Demo, desk_page: Page) -> None:
    to_demo(desk_page, demo.about)
    names = desk_page.locator(".row a.name")
    expect(names.nth(0)).to_be_focused()
    desk_page.keyboard.press("j")
    desk_page.keyboard.press("j")
    desk_page.keyboard.press("k")
    expect(names.nth(1)).to_be_focused()
    second = names.nth(1).inner_text()
    expect(desk_page.get_by_role("complementary").get_by_role("heading", level=2)).to_have_text(second)
    desk_page.keyboard.press("/")
    desk_page.keyboard.type("jkaj")
    expect(desk_page.get_by_label("Name")).to_have_value("jkaj")
    expect(desk_page.get_by_text("Nobody fits this choice.")).to_be_visible()
    desk_page.get_by_role("button", name="Show everybody").click()
    expect(names.nth(1)).to_be_visible()
    desk_page.keyboard.press("?")
    expect(desk_page.get_by_role("dialog").get_by_text("next row")).to_be_visible()
    desk_page.keyboard.press("Escape")
    names.nth(1).focus()
    desk_page.keyboard.press("Enter")
    expect(desk_page.get_by_role("heading", level=1)).to_have_text(second)


def test_each_day_opens_the_check_ins_it_was_made_from(demo: Demo, desk_page: Page) -> None:
    to_demo(desk_page, demo.about)
    desk_page.keyboard.press("Enter")
    day = desk_page.get_by_label("Day", exact=True)
    before = day.input_value()
    day.press("ArrowLeft")
    assert int(day.input_value()) == int(before) - 1
    expect(desk_page.locator(".readout strong")).to_be_visible()
    desk_page.keyboard.press("End")
    desk_page.locator(".readout").get_by_role("button", name="Open the check-ins").click()
    evidence = desk_page.locator(".evidence")
    expect(evidence.locator(".checkin").first).to_contain_text("Socks")
    expect(evidence.locator(".checkin").first).to_contain_text("written by")


def test_a_small_screen_shows_the_list_without_scrolling_sideways(demo: Demo, phone_page: Page) -> None:
    to_demo(phone_page, demo.about)
    wide = "document.documentElement.scrollWidth - screen.width"  # a phone zooms out: innerWidth grows with it
    assert phone_page.evaluate(wide) <= 0
    phone_page.locator(".row .why").first.click()
    expect(phone_page.locator("canvas").first).to_be_visible()
    assert phone_page.evaluate(wide) <= 0
    assert faults(phone_page) == []


def test_without_the_server_it_says_so_and_tries_again_when_asked(demo: Demo, desk_page: Page) -> None:
    page = desk_page
    to_demo(page, demo.about)
    page.route("**/api/clinic/people/search", lambda route: route.abort())
    page.get_by_role("link", name="People", exact=True).click()
    expect(page.get_by_role("alert")).to_contain_text("can’t be reached")
    assert faults(page) == []
    page.unroute("**/api/clinic/people/search")
    page.get_by_role("button", name="Try again").click()
    expect(page.locator(".people li").first).to_be_visible()


def test_a_page_that_is_not_there_leads_back_to_the_list(demo: Demo, desk_page: Page) -> None:
    to_demo(desk_page, demo.about)
    for path in ("nowhere", "limbs/00000000-0000-7000-8000-000000000000"):
        desk_page.goto(f"{demo.url}/clinic/#/{path}")
        expect(desk_page.get_by_role("heading", name="Not here")).to_be_visible()
        desk_page.get_by_role("link", name="Back to today’s list").click()
        expect(desk_page.locator(".row").first).to_be_visible()


def test_the_filters_narrow_the_list_and_stay_in_the_address(demo: Demo, desk_page: Page) -> None:
    page = desk_page
    to_demo(page, demo.about)
    everybody = page.locator(".row").count()
    page.get_by_label("State").select_option("settling")
    expect(page.locator(".row .state").first).to_have_text("settling")
    page.wait_for_function("most => document.querySelectorAll('.row').length < most", arg=everybody)
    assert set(page.locator(".row .state").all_inner_texts()) == {"settling"}
    assert page.url.endswith("#/today?state=settling")
    page.reload()
    expect(page.get_by_label("State")).to_have_value("settling")
    page.get_by_label("Level").select_option("hip_disarticulation")
    expect(page.get_by_text("Nobody fits this choice.")).to_be_visible()
