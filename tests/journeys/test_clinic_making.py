"""A socket formed on the limb in one visit: from the check to the first wear schedule, with a stop and a liner."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.actors import checkin
from tests.journeys.clinic import RULES, faults, logged, sign_in, to
from tests.journeys.conftest import Later
from tests.journeys.phones import Clinic

pytestmark = pytest.mark.journey

LOOK = os.environ.get("PLYTIDE_LOOK")  # a folder for pictures, where somebody wants to see the pages


def looked_at(page: Page, name: str) -> None:
    for theme, rules in RULES.items():
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        assert faults(page, *rules) == []
        for width, height in ((1280, 800), (1024, 768), (390, 844)) if LOOK else ():
            page.set_viewport_size({"width": width, "height": height})
            page.screenshot(path=Path(str(LOOK)) / f"{name}-{width}-{theme}.png", full_page=True)
    page.set_viewport_size({"width": 320, "height": 700})
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    page.set_viewport_size({"width": 1280, "height": 800})


def test_a_socket_is_formed_on_the_limb_from_check_to_wear_schedule(clinic: Clinic, desk_page: Page) -> None:
    limb_id = logged(clinic, "Wilma Ostrand", checkin("", date.today() - timedelta(days=1), weight_kg=82.4))
    page, server, said = desk_page, clinic.server, desk_page.locator("#said")
    sign_in(page, server.url, server.login, server.password)

    # A liner comes in; it is the only one, and one is the least wanted.
    to(page, server.url, "stock")
    page.get_by_text("Add an item", exact=True).click()
    page.get_by_label("Name", exact=True).fill("Cushion liner")
    page.get_by_label("Size optional").fill("26")
    page.get_by_label("Least on the shelf").fill("1")
    page.get_by_role("button", name="Add the item").click()
    expect(page.get_by_role("heading", name="Cushion liner 26")).to_be_visible()
    page.get_by_label("Lot").fill("L-7")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator("table")).to_contain_text("came in")
    looked_at(page, "item")

    # Before: what is found in the room is kept at once, and one finding stops.
    to(page, server.url, f"limbs/{limb_id}")
    page.get_by_role("link", name="a socket being made").click()
    page.get_by_label("Suspension").select_option("pin_lock")
    page.get_by_label("Purpose").select_option("diagnostic")
    looked_at(page, "made")
    page.get_by_role("button", name="Begin", exact=True).click()
    expect(page.get_by_role("heading", name="What stands against it")).to_be_visible()
    page.get_by_label("The maker’s instructions for these materials").check()
    page.get_by_label("Skin: found").select_option("closed")
    expect(page.locator("#tick-skin")).to_be_checked()
    page.get_by_label("Body weight, weighed today, kg").fill("83,5")
    page.get_by_label("Weight limit of the weakest part, by its maker, kg").fill("80")
    page.keyboard.press("Tab")
    expect(page.locator(".mk-stops")).to_contain_text("Stops: 83.5 kg, weighed for this socket")
    page.locator("#tick-liner").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("more than the limit of 80 kg")
    dialog.get_by_role("button", name="Back to the form").click()
    expect(page.locator("#tick-liner")).not_to_be_checked()
    page.locator("#tick-liner").click()
    dialog.get_by_label("Why you go on").fill("The maker was called: 100 kg for indoor use.")
    dialog.get_by_role("button", name="Go on all the same").click()
    expect(page.locator("#tick-liner")).to_be_checked()
    expect(page.locator(".mk-stops")).to_contain_text("The maker was called")
    looked_at(page, "making")

    # Interrupted: another screen has all of it.
    page.reload()
    expect(page.locator("#value-weight")).to_have_value("83.5")
    expect(page.locator("#tick-liner")).to_be_checked()

    # The liner is taken; a second one is not there.
    page.locator("#take-item").select_option(label="Cushion liner 26: 1 on hand")
    page.get_by_role("button", name="Take", exact=True).click()
    expect(page.locator(".mk-items")).to_contain_text("lot L-7")
    page.locator("#take-item").select_option(label="Cushion liner 26: 0 on hand")
    page.get_by_role("button", name="Take", exact=True).click()
    expect(dialog).to_contain_text("0 on hand")
    dialog.get_by_role("button", name="Back to the form").click()

    # The end: what is open is named, the clock of the definitive one starts.
    page.get_by_label("no sock: the liner alone").check()
    page.get_by_label("Why it is retired").fill("Too large.")
    page.get_by_label("Fitted on").fill(str(date.today() - timedelta(days=9)))
    page.get_by_role("button", name="Finish", exact=True).click()
    expect(page.locator("#field-fitted_on-fault")).to_contain_text("before the making was begun")
    page.get_by_label("Fitted on").fill(str(date.today()))
    page.get_by_role("button", name="Finish", exact=True).click()
    expect(dialog).to_contain_text("left open")
    expect(dialog).to_contain_text("Trim lines cut, edges smooth")
    dialog.get_by_role("button", name="Finish and leave them open").click()
    expect(page.locator(".mk-end")).to_contain_text("The definitive socket is planned for")
    expect(page.locator(".mk-wear li")).to_have_count(6)
    expect(page.locator(".mk-end")).to_contain_text("Trim lines cut, edges smooth")
    expect(page.locator("#tick-liner")).not_to_be_visible()  # what was done is a record to open
    page.get_by_text("Step by step: 5 of 31 answered").click()
    expect(page.locator("#tick-liner")).to_be_checked()
    page.get_by_text("Step by step: 5 of 31 answered").click()
    looked_at(page, "finished")
    told = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")
    assert (told["sockets"][-1]["made"], told["sockets"][-1]["purpose"]) == ("direct", "diagnostic")
    assert told["sockets"][-1]["despite"][0]["reason"].startswith("The maker was called")

    # Reordered: it stands on the list to order, and then on order.
    to(page, server.url, "stock")
    expect(page.locator(".st-order")).to_contain_text("Cushion liner 26")
    looked_at(page, "stock")
    page.locator(".st-order").get_by_role("link", name="Cushion liner 26").click()
    page.get_by_label("What happened").select_option("ordered")
    page.get_by_label("How many").fill("2")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(said).to_have_text("Kept.")
    expect(page.locator(".page")).to_contain_text("2 on order")
    to(page, server.url, "stock")
    expect(page.locator(".st-order")).not_to_contain_text("Cushion liner 26")
    to(page, server.url, "making-lists")
    looked_at(page, "lists")


WORDS_FOR_FEW = "too few for a figure"
TWO_WEEKS = 15


def test_one_visit_starts_the_clock_that_fires_at_two_weeks_and_the_definitive_one_changes_the_record(
    later: Later, desk_page: Page
) -> None:
    clinic, page, server = later.clinic, desk_page, later.clinic.server
    for n in range(4):  # four others went that way before: too few to show
        (limb_id,) = clinic.limbs(clinic.person(f"Wanda Kestrel-{n}"))
        for back, purpose in ((60 - n, "diagnostic"), (30 - n, "definitive")):
            fitted = {"fitted_on": str(date.today() - timedelta(days=back)), "purpose": purpose}
            clinic.staff.call("POST", f"/api/clinic/limbs/{limb_id}/sockets", fitted)
    person = clinic.person("Wilma Ostrand", limbs=())
    limb = {
        "side": "left",
        "level": "transtibial",
        "amputated_on": str(date.today() - timedelta(days=200)),
        "shape": "conical",
    }
    limb_id = clinic.staff.call("POST", f"/api/clinic/people/{person}/limbs", limb)["id"]
    item = {"kind": "liner", "name": "Cushion liner", "size": "26", "least": 1}
    item_id = clinic.staff.call("POST", "/api/clinic/stock/items", item)["id"]
    came = {"id": "came", "deed": "received", "count": 1, "lot": "L-7"}
    clinic.staff.call("POST", f"/api/clinic/stock/items/{item_id}/movements", came)
    sign_in(page, server.url, server.login, server.password)
    to(page, server.url, "own-record")
    record = page.locator("tr", has_text="From the first socket to the definitive one")
    expect(record).to_contain_text(WORDS_FOR_FEW)
    expect(record).to_contain_text("4 people")

    # The check, and what stops it.
    to(page, server.url, f"limbs/{limb_id}")
    page.get_by_role("link", name="a socket being made").click()
    page.get_by_label("Suspension").select_option("pin_lock")
    page.get_by_label("Purpose").select_option("diagnostic")
    page.get_by_role("button", name="Begin", exact=True).click()
    page.get_by_label("Skin: found").select_option("closed")
    page.get_by_label("Length of the limb, mm").fill("110")
    page.get_by_label("For a pin: the least length its maker wants, mm").fill("120")
    page.keyboard.press("Tab")
    expect(page.locator(".mk-stops")).to_contain_text("its maker wants 120 mm")
    page.locator("#tick-liner").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("Why you go on").fill("Diagnostic only, with a sleeve over it.")
    dialog.get_by_role("button", name="Go on all the same").click()
    expect(page.locator("#tick-liner")).to_be_checked()

    # The only liner is taken, and another one ordered.
    page.locator("#take-item").select_option(label="Cushion liner 26: 1 on hand")
    page.get_by_role("button", name="Take", exact=True).click()
    expect(page.locator(".mk-items")).to_contain_text("lot L-7")
    page.get_by_label("no sock: the liner alone").check()
    page.get_by_role("button", name="Finish", exact=True).click()
    dialog.get_by_role("button", name="Finish and leave them open").click()
    expect(page.locator(".mk-end")).to_contain_text("The definitive socket is planned for")
    expect(page.locator(".mk-wear li")).to_have_count(6)
    to(page, server.url, "stock")
    page.locator(".st-order").get_by_role("link", name="Cushion liner 26").click()
    page.get_by_label("What happened").select_option("ordered")
    page.get_by_label("How many").fill("2")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator(".page")).to_contain_text("2 on order")
    to(page, server.url, "today")
    fired = page.locator(".row", has_text="Wilma Ostrand").filter(has_text="definitive socket")
    expect(fired).to_have_count(0)

    # Two weeks on: the clock fires, and the list says so.
    later.forward(TWO_WEEKS)
    page.context.clear_cookies()
    page.clock.set_system_time(datetime.now(UTC) + timedelta(days=TWO_WEEKS))
    page.reload()
    sign_in(page, server.url, server.login, server.password)
    for _ in range(100):  # the new day's round is made in the background; a page opened after it shows it
        expect(page.locator("#screen")).to_have_attribute("data-shows", "today")
        if fired.count():
            break
        page.reload()
    expect(fired).to_have_count(1)
    looked_at(page, "clock-fired")

    # The definitive one is made: no clock any more, and one more in the clinic's record.
    to(page, server.url, f"limbs/{limb_id}")
    page.get_by_role("link", name="a socket being made").click()
    page.get_by_label("How it is made").select_option("cast")
    page.get_by_label("Purpose").select_option("definitive")
    page.get_by_role("button", name="Begin", exact=True).click()
    page.get_by_label("no sock: the liner alone").check()
    page.get_by_label("Why it is retired").fill("The definitive one is here.")
    page.get_by_role("button", name="Finish", exact=True).click()
    dialog.get_by_role("button", name="Finish and leave them open").click()
    expect(page.locator(".mk-end")).to_be_visible()
    expect(page.locator(".mk-end")).not_to_contain_text("is planned for")
    to(page, server.url, "own-record")
    expect(page.get_by_text("Nothing to count yet: Where the limb stands: its range held; ")).to_be_visible()
    expect(record).not_to_contain_text(WORDS_FOR_FEW)
    expect(record).to_contain_text("5 people, 5 cases")
    looked_at(page, "own-record")
