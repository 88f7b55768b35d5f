"""What the clinic does about a signal, and what stays of it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.actors import checkin
from tests.journeys.clinic import faults, logged, sign_in
from tests.journeys.phones import Clinic

pytestmark = pytest.mark.journey

BLISTER = [{"place": "shin_front", "finding": "blister", "redness_minutes": None}]


def blistered() -> list[Any]:
    return [checkin("", date.today() - timedelta(days=back), comfort=7) for back in (3, 2, 1)] + [
        checkin("", date.today(), comfort=4, skin=BLISTER, skin_checked=True, note="It opened <i>today</i>")
    ]


def opened(page: Page, clinic: Clinic, name: str) -> None:
    server = clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.get_by_role("searchbox", name="Name").fill(name)
    expect(page.locator(".row")).to_have_count(1)
    page.keyboard.press("Enter")
    expect(page.locator(".row a.name")).to_be_focused()


def test_a_blister_is_acknowledged_undone_and_closed_with_an_outcome(clinic: Clinic, desk_page: Page) -> None:
    limb_id = logged(clinic, "Ottilie Marsh", *blistered())
    page = desk_page
    opened(page, clinic, "Ottilie")
    row, said = page.locator(".row"), page.locator("#said")
    expect(row.locator(".why p")).to_contain_text("Blister")

    page.keyboard.press("a")
    page.get_by_role("dialog").get_by_label("Words for the wearer (optional)").fill("Leave it off. We call at ten.")
    page.get_by_role("dialog").get_by_role("button", name="Acknowledge").click()
    expect(said).to_contain_text("Acknowledged: skin.")
    expect(row).to_contain_text("acknowledged")
    page.keyboard.press("u")
    expect(said).to_contain_text("Undone")
    expect(row).not_to_contain_text("acknowledged")

    page.keyboard.press("g")
    page.get_by_role("dialog").get_by_role("button", name="Give").click()
    expect(page.get_by_role("dialog")).to_have_count(0)
    expect(row).to_contain_text("with ")
    page.keyboard.press("c")
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("Seen and adjusted").check()
    dialog.get_by_label("For the record, if you like").fill("Relief made, dressing put on.")
    dialog.get_by_role("button", name="Close", exact=True).click()
    expect(said).to_contain_text("Closed: skin.")

    page.goto(f"{clinic.server.url}/clinic/#/limbs/{limb_id}")
    page.get_by_text("Closed before: 1").click()
    page.get_by_text("What happened to it").click()
    events = page.locator(".events li").all_inner_texts()
    assert [any(word in line for line in events) for word in ("acknowledged", "undid", "given to", "closed")] == [
        True
    ] * 4
    assert "Seen and adjusted (Relief made, dressing put on.)" in events[-1]
    assert any("To the wearer: “Leave it off. We call at ten.”" in line for line in events)
    assert faults(page) == []


def test_visit_booked_asks_for_the_visit_and_books_it_in_the_same_step(clinic: Clinic, desk_page: Page) -> None:
    limb_id = logged(clinic, "Wendel Roake", *blistered())
    page = desk_page
    opened(page, clinic, "Wendel")
    page.keyboard.press("c")
    dialog = page.get_by_role("dialog")
    expect(dialog.get_by_label("Day")).to_be_hidden()
    dialog.get_by_label("Visit booked").check()
    expect(dialog.get_by_label("Day")).to_be_visible()
    assert faults(page) == []
    dialog.get_by_role("button", name="Close", exact=True).click()
    expect(dialog).to_contain_text("Enter the visit first.")
    dialog.get_by_label("Day").fill(str(date.today() + timedelta(days=2)))
    dialog.get_by_label("Time").fill("10:15")
    dialog.get_by_role("button", name="Enter it and close").click()
    expect(page.locator("#said")).to_contain_text("Closed: skin.")
    (visit,) = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["visits"]
    assert (visit["on"], visit["time"]) == (str(date.today() + timedelta(days=2)), "10:15")


def test_put_off_until_a_day_sinks_the_row_and_says_until_when(clinic: Clinic, desk_page: Page) -> None:
    logged(clinic, "Barnaby Quill", *blistered())
    page = desk_page
    opened(page, clinic, "Barnaby")
    page.keyboard.press("s")
    dialog = page.get_by_role("dialog")
    assert faults(page) == []
    dialog.get_by_label("in a week").check()
    dialog.get_by_role("button", name="Put off").click()
    expect(page.locator("#said")).to_contain_text("Put off until")
    expect(page.get_by_role("complementary")).to_contain_text("put off until")
    assert "u3" not in str(page.locator(".row").get_attribute("class"))


def test_what_a_wearer_wrote_is_shown_as_text_and_a_note_is_kept(clinic: Clinic, desk_page: Page) -> None:
    limb_id = logged(clinic, "Sabeth Orlo", *blistered())
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}")
    page.get_by_role("button", name="Open the check-ins").click()
    expect(page.locator(".evidence")).to_contain_text("It opened <i>today</i>")
    expect(page.locator(".evidence")).to_contain_text("The phone said")
    expect(page.locator(".evidence")).to_contain_text("stop wearing: Do not wear the socket now.")
    expect(page.get_by_role("img", name="left limb, front")).to_be_visible()
    page.get_by_label("Write a note").fill("Called. She comes on Friday.")
    page.get_by_role("button", name="Keep note").click()
    expect(page.locator(".notes")).to_contain_text("Called. She comes on Friday.")


def test_the_replay_of_a_day_shows_only_what_had_arrived(clinic: Clinic, desk_page: Page) -> None:
    limb_id = logged(clinic, "Iven Sorrel", *blistered())
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}")
    page.get_by_role("button", name="A day back").click()
    page.get_by_role("link", name="What did we know on this day?").click()
    expect(page.get_by_role("note")).to_contain_text("You see what was known at the end of")
    expect(page.get_by_text("No check-in had reached the clinic by the end of this day.")).to_be_visible()
    expect(page.get_by_text("Blister")).to_have_count(0)
    page.get_by_role("link", name="Back to today").click()
    expect(page.get_by_text("Blister").first).to_be_visible()


def test_a_session_that_ends_under_a_half_written_note_loses_nothing(clinic: Clinic, desk_page: Page) -> None:
    limb_id = logged(clinic, "Linnea Stroud", *blistered())
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}")
    page.get_by_label("Write a note").fill("Half a thought")
    page.context.clear_cookies()
    page.get_by_role("button", name="Keep note").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_be_visible()
    expect(page.get_by_role("heading", name="Linnea Stroud")).to_be_hidden()
    assert faults(page) == []
    dialog.get_by_label("Sign-in name").fill(server.login)
    dialog.get_by_label("Password").fill(server.password)
    dialog.get_by_role("button", name="Sign in").click()
    expect(page.get_by_label("Write a note")).to_have_value("Half a thought")
    page.get_by_role("button", name="Keep note").click()
    expect(page.locator(".notes")).to_contain_text("Half a thought")
