"""From "call now" to a visit in the wearer's calendar: what is read is acted on, and both sides hear of it."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from icalendar import Calendar
from playwright.sync_api import Page, expect

from tests.actors import checkin
from tests.http.test_photos import jpeg
from tests.journeys.clinic import RULES, faults, logged, sign_in
from tests.journeys.phones import Clinic, Phone

pytestmark = pytest.mark.journey

BLISTER = [{"place": "shin_front", "finding": "blister", "redness_minutes": None}]


def clicked(page: Page) -> int:
    """Clicks since the last look at them."""
    return int(page.evaluate("(() => { const count = window.clicks ?? 0; window.clicks = 0; return count; })()"))


def test_a_call_a_question_a_photo_and_a_visit(
    clinic: Clinic, desk_page: Page, installed: Phone, tmp_path: Path
) -> None:
    story = [checkin("", date.today() - timedelta(days=back), comfort=7) for back in (3, 2, 1)]
    story.append(checkin("", date.today(), comfort=4, skin=BLISTER, skin_checked=True))
    numbers = [{"number": "01632 960 412", "whose": "her sister", "best": "after ten"}]
    limb_id = logged(clinic, "Isolde Wray", *story, telephones=numbers, ask_for="Wil")
    person_id = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["person"]["id"]

    phone = installed
    phone.open()
    phone.join(clinic.code(person_id))
    phone.works_offline()

    page, server = desk_page, clinic.server
    page.add_init_script("addEventListener('click', () => (window.clicks = (window.clicks ?? 0) + 1), true)")
    sign_in(page, server.url, server.login, server.password)
    page.get_by_role("searchbox", name="Name").fill("Isolde")
    row, said = page.locator(".row"), page.locator("#said")
    expect(row).to_have_count(1)
    expect(row.locator("a.dial")).to_have_attribute("href", "tel:01632960412")
    page.keyboard.press("Enter")
    expect(row.locator("a.name")).to_be_focused()
    expect(page.locator(".peek")).to_contain_text("Ask for Wil.")

    # Not reached, then reached: two clicks and a line.
    clicked(page)
    page.get_by_role("button", name="Record a call…").click()
    page.get_by_role("dialog").get_by_label("What was said").fill("Nobody there, no machine")
    page.get_by_role("dialog").get_by_role("button", name="Not reached").click()
    expect(said).to_contain_text("The call is recorded")
    assert clicked(page) == 2
    expect(page.get_by_role("dialog")).to_have_count(0)
    expect(row).to_contain_text("Blister")
    page.keyboard.press("r")
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("What was said").fill("It weeps a little")
    dialog.get_by_label("What was agreed").fill("Leaves it off until we have seen it")
    for theme, rules in RULES.items():
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        assert faults(page, *rules) == []
    dialog.get_by_role("button", name="Reached", exact=True).click()
    expect(dialog).to_have_count(0)
    expect(said).to_contain_text("The call is recorded")

    # A photo is asked for.
    clicked(page)
    page.get_by_role("button", name="Write…").click()
    page.get_by_role("dialog").get_by_label("Please send a photo").check()
    page.get_by_role("dialog").get_by_label("Words", exact=True).fill("Of the front, <b>in daylight</b>")
    page.get_by_role("dialog").get_by_role("button", name="Send").click()
    expect(said).to_contain_text("Sent.")
    assert clicked(page) == 3

    # The phone answers without a network, and sends later.
    phone.page.reload()
    phone.says("Please send a photo. Of the front, <b>in daylight</b>")
    expect(phone.page.locator(".message")).to_contain_text("In danger, call for help.")
    phone.offline()
    phone.page.reload()
    phone.says("Please send a photo.")
    phone.page.get_by_role("button", name="Take a photo").click()
    phone.tap("none", "same", "fit-good", "comfort-6")
    picture = tmp_path / "front.jpg"
    picture.write_bytes(jpeg())
    phone.says("Your clinic asks for this one.")
    phone.page.set_input_files("#photo", str(picture))
    expect(phone.page.locator(".photos img")).to_be_visible()
    phone.tap("skin-fine", "save")
    phone.page.wait_for_selector("#done")
    phone.tap("done")
    phone.says("You: Photo sent")
    expect(phone.page.locator(".said-back")).to_contain_text("Saved on this phone")
    phone.offline(False)
    phone.page.reload()
    expect(phone.page.locator(".said-back")).to_contain_text("With your clinic")

    # The answer is a row until somebody reads it; then the phone says who.
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}")
    asked = page.locator(".beside > section").first.locator("> .signals")
    expect(asked).to_contain_text("An answer waits to be read: “photo sent”.")
    expect(page.locator(".messages")).to_contain_text("photo sent")
    page.get_by_role("button", name="Read: tell them so").click()
    expect(said).to_contain_text("Their phone will say who read it")
    expect(asked).not_to_contain_text("An answer waits")
    phone.page.reload()
    expect(phone.page.locator(".said-back")).to_contain_text("Read by")

    # A visit is booked, then moved; the phone's calendar follows.
    clicked(page)
    page.get_by_role("button", name="Book a visit…").click()
    page.get_by_role("dialog").get_by_role("button", name="Book", exact=True).click()
    expect(said).to_contain_text("Booked: Isolde Wray")
    assert clicked(page) == 2
    phone.page.reload()
    phone.says("Next visit:")
    (first,) = calendar(phone)
    assert (first["STATUS"], first["SEQUENCE"]) == ("CONFIRMED", 0)
    page.get_by_role("button", name="Move it…").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("Time").fill("15:45")
    dialog.get_by_role("button", name="Move", exact=True).click()
    expect(said).to_contain_text("is moved to")
    phone.page.reload()
    phone.says("15:45")
    (moved,) = calendar(phone)
    assert (moved["UID"], moved["SEQUENCE"]) == (first["UID"], 1)
    assert moved["DTSTART"].dt.strftime("%H:%M") == "15:45"
    assert faults(phone.page) == []

    page.goto(f"{server.url}/clinic/#/calendar?day={moved['DTSTART'].dt.date()}")
    expect(page.locator(".visits").filter(has_text="Isolde Wray")).to_be_visible()  # one list a chair
    assert faults(page) == []
    page.set_viewport_size({"width": 320, "height": 700})
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


def calendar(phone: Phone) -> list[Calendar]:
    """The events of the file that the phone makes."""
    with phone.page.expect_download() as taken:
        phone.page.click("#visit-file")
    return list(Calendar.from_ical(taken.value.path().read_bytes()).walk("VEVENT"))


def test_a_visit_is_booked_with_the_call_that_agreed_on_it(clinic: Clinic, desk_page: Page) -> None:
    limb_id = logged(clinic, "Torvald Inch", checkin("", date.today(), skin=BLISTER, skin_checked=True))
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}")
    # The worklist has such a button, too, and stays until the limb is there.
    expect(page.get_by_role("heading", name="Torvald Inch", level=1)).to_be_visible()
    page.get_by_role("button", name="Record a call…").click()
    dialog = page.get_by_role("dialog")
    visit = dialog.locator("[name=visit]")
    expect(visit).to_have_value("")
    visit.select_option("0")
    day_and_time = visit.locator("option:checked").inner_text()
    dialog.get_by_role("button", name="Reached", exact=True).click()
    expect(page.locator("#said")).to_contain_text(f"a visit is booked for {day_and_time}")
    expect(page.get_by_role("button", name="Move it…")).to_be_visible()
    expect(page.locator("#screen")).to_contain_text("Reached")
    # A time that is not among those offered is asked for next.
    page.get_by_role("button", name="Record a call…").click()
    dialog.locator("[name=visit]").select_option("other")
    dialog.get_by_role("button", name="They called", exact=True).click()
    expect(dialog).to_contain_text("Book a visit for Torvald Inch")
    dialog.get_by_role("button", name="Book", exact=True).click()
    expect(page.locator("#said")).to_contain_text("Booked: Torvald Inch")
    visits = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["visits"]
    assert len([one for one in visits if not one["cancelled"]]) == 2
