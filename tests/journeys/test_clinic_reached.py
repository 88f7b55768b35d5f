"""A manager enters when the clinic answers and whom to call else, and records who agreed to the safety rules."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from tests.journeys.clinic import RULES, faults, sign_in, to
from tests.journeys.phones import Clinic


def test_hours_and_numbers_are_entered_refused_where_wrong_and_kept(clinic: Clinic, desk_page: Page) -> None:
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    to(page, server.url, "settings")
    page.get_by_label("Out-of-hours number").fill("ask Ida")
    page.get_by_label("Monday, opens", exact=True).fill("08:00")
    keep = page.get_by_role("button", name="Keep")
    keep.click()
    expect(page.locator("#fault-hours-1")).to_have_text("Both times are needed.")
    page.get_by_label("Monday, closes", exact=True).fill("12:00")
    page.get_by_label("Time zone of these hours").fill("Europe/London")
    keep.click()
    expect(page.locator("#fault-out_of_hours_phone")).to_contain_text("can hold digits")
    expect(page.get_by_label("Out-of-hours number")).to_be_focused()
    page.get_by_label("Out-of-hours number").fill("01632 960174")
    page.get_by_label("Monday, opens again").fill("13:00")
    page.get_by_label("Monday, closes again").fill("17:00")
    page.get_by_role("button", name="Add a closed day").click()
    page.locator("[name=closed_on]").fill("2030-12-25")
    keep.click()
    expect(page.locator("#said")).to_have_text("Kept.")
    found = clinic.staff.call("GET", "/api/clinic/settings")
    assert found["hours"] == [
        {"days": [1], "from": "08:00", "to": "12:00"},
        {"days": [1], "from": "13:00", "to": "17:00"},
    ]
    assert (found["closed_on"], found["zone"], found["out_of_hours_phone"]) == (
        ["2030-12-25"],
        "Europe/London",
        "01632 960174",
    )
    expect(page.get_by_label("Monday, opens again")).to_have_value("13:00")
    # As before: the phones of the other journeys are told when this clinic can be called.
    nothing = {"hours": [], "zone": None, "closed_on": [], "out_of_hours_phone": None}
    clinic.staff.call("PATCH", "/api/clinic/settings", nothing)


def test_an_agreement_is_recorded_and_the_worklist_stops_asking_for_it(clinic: Clinic, desk_page: Page) -> None:
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    asks = page.get_by_role("link", name="not agreed to by this clinic’s physician")
    asks.click()
    expect(page.locator(".stand")).to_have_text("Not agreed yet")
    expect(page.get_by_text("chest pain or breathless").first).to_be_visible()
    page.get_by_role("button", name="Record that they agree").click()
    expect(page.locator("#fault-physician")).to_have_text("A name is needed.")
    page.get_by_label("Name of the physician").fill("Dr Ilse Wren")
    page.get_by_role("button", name="Record that they agree").click()
    expect(page.locator(".stand")).to_contain_text("Agreed: Dr Ilse Wren, recorded by")
    to(page, server.url, "today")
    expect(page.locator(".list-head")).to_be_visible()
    expect(asks).to_have_count(0)
    to(page, server.url, "settings")
    for theme, only in RULES.items():
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        assert faults(page, *only) == []
    page.set_viewport_size({"width": 360, "height": 740})
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
