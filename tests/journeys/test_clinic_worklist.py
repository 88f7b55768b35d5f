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
    expect(first.get_by_role("img")).to_have_attribute("aria-label", re.compile("Socks over 28 days"))
    expect(desk_page.get_by_role("complementary").locator(".signal").first).to_be_visible()


# Rows whole in the window; how high those are that are to be called; and links too small to touch.
SEEN = """() => {
  const boxes = (of) => [...document.querySelectorAll(of)].map((row) => row.getBoundingClientRect());
  const whole = (of) => boxes(of).filter(({ top, bottom, height }) => height && top >= 0 && bottom <= innerHeight).length;
  return {
    seen: whole('.row'), calls: whole('.row.u3, .row.u2'), to_call: boxes('.row.u3, .row.u2').length,
    high: Math.max(...boxes('.row.u3, .row.u2').map(({ height }) => height)),
    small: [...document.querySelectorAll('.row a')].map((one) => one.getBoundingClientRect())
      .filter(({ width, height }) => width && (width < 24 || height < 23.5)).length,
  };
}"""


def test_eleven_calls_are_seen_at_once_each_with_what_a_call_needs(demo: Demo, desk_page: Page) -> None:
    to_demo(desk_page, demo.about)
    seen = desk_page.evaluate(SEEN)
    assert seen["seen"] >= 11, seen
    assert seen["calls"] >= min(11, seen["to_call"]), seen
    assert seen["high"] <= 46, seen
    assert seen["small"] == 0, seen
    first = desk_page.locator(".row").first
    expect(first.locator(".chips li").first).to_have_text("diabetes")
    expect(first.locator(".socks b")).to_contain_text("ply")
    expect(first.locator(".strip svg")).to_be_visible()
    expect(first.locator(".dates")).to_contain_text("visit")
    expect(first.locator("a.dial")).to_have_attribute("href", re.compile("tel:"))
    # What is quiet is one line, and the keyboard passes it by until it is unfolded.
    quiet = desk_page.locator("details.folded")
    expect(quiet.locator(".row").first).to_be_hidden()
    shown = desk_page.locator(".row a.name").evaluate_all(
        "all => all.filter((one) => one.getClientRects().length).length"
    )
    for _ in range(shown + 2):
        desk_page.keyboard.press("j")
    expect(desk_page.locator(".row.chosen a.name")).to_be_focused()
    quiet.locator("summary").press("Enter")
    desk_page.keyboard.press("j")
    expect(quiet.locator(".row.chosen")).to_be_visible()
    # At 1024 the place to act stays beside the list.
    desk_page.set_viewport_size({"width": 1024, "height": 768})
    expect(desk_page.locator(".peek").get_by_role("button", name="Record a call…")).to_be_in_viewport()
    assert desk_page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


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
    day.press("ArrowRight")  # the newest day that was logged: today may not be, just after midnight
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
