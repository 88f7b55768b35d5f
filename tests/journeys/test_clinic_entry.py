"""What the clinic enters: a tape measurement, a pad, what was done, a change on the same socket."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from playwright.sync_api import Page, expect

from tests.actors import checkin
from tests.journeys.clinic import faults, logged, sign_in
from tests.journeys.phones import Clinic

pytestmark = pytest.mark.journey

LEVELS = [(0, 240.0), (40, 280.0), (80, 300.0), (120, 310.0)]


def test_a_tape_volume_is_compared_only_at_the_same_levels(clinic: Clinic, desk_page: Page) -> None:
    (limb_id,) = clinic.limbs(clinic.person("Fenna Holt"))
    before = {
        "on": str(date.today() - timedelta(days=30)),
        "levels": [{"from_end_mm": height, "circumference_mm": girth} for height, girth in LEVELS],
    }
    clinic.staff.call("POST", f"/api/clinic/limbs/{limb_id}/measurements", before)
    (kept,) = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["measurements"]
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}/measure")

    live = page.locator(".live")
    for i, (_, girth) in enumerate(reversed(LEVELS)):
        page.locator(f"#girth-{i}").fill(str(girth))
    expect(live).to_contain_text(f"About {round(kept['volume_ml'])} ml")
    expect(live).to_contain_text(f"the tape alone can be off by {round(kept['volume_error_ml'])} ml")
    expect(live).to_contain_text("Difference +0 ml (+0.0 %)")
    expect(live).to_contain_text("no sign of a change")
    assert faults(page) == []
    for i, (_, girth) in enumerate(reversed(LEVELS)):
        page.locator(f"#girth-{i}").fill(str(girth - 20))
    expect(live).to_contain_text("can differ by 8.6 %: this is more")
    for i, (_, girth) in enumerate(reversed(LEVELS)):
        page.locator(f"#girth-{i}").fill(str(girth))

    page.locator("#height-0").fill("130")
    expect(live).to_contain_text("Not compared with")
    expect(live).not_to_contain_text("Difference")
    page.locator("#height-0").fill("120")

    page.locator("#girth-1").fill("200")
    page.get_by_role("button", name="Keep the measurement").click()
    expect(page.get_by_role("alert")).to_contain_text("200 mm at 80 mm from the end was 300 mm last time.")
    page.locator("#girth-1").fill("295")
    page.get_by_label("Lengths in").select_option("in")
    expect(page.locator("#girth-1")).to_have_value("11.6")
    page.get_by_label("Lengths in").select_option("cm")
    page.locator("#girth-1").fill("29,5")
    page.get_by_role("textbox", name="Body weight").fill("170 lb")
    expect(page.get_by_text("= 77.1 kg")).to_be_visible()
    page.get_by_role("button", name="Keep the measurement").click()
    expect(page.locator("#said")).to_contain_text("The measurement is kept.")
    newest = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["measurements"][-1]
    assert newest["weight_kg"] == 77.1
    assert [level["circumference_mm"] for level in newest["levels"] if level["from_end_mm"] == 80] == [295.0]


def test_a_pad_a_deed_and_another_suspension_are_marked_on_the_story(clinic: Clinic, desk_page: Page) -> None:
    (limb_id,) = clinic.limbs(clinic.person("Caspar Lune"))
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)

    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}/pad")
    page.get_by_role("textbox", name="Thickness").fill("1.5")
    page.get_by_label("Where").select_option("calf")
    page.get_by_role("button", name="Add the pad").click()
    beside = page.get_by_role("complementary")
    expect(beside).to_contain_text("Pad, 1.5 mm, calf")

    page.get_by_role("link", name="what was done").click()
    page.get_by_label("What", exact=True).select_option("Shrinker given")
    page.get_by_role("button", name="Keep").click()
    expect(beside).to_contain_text("Shrinker given")

    page.get_by_role("link", name="Change the preparatory socket").click()
    page.get_by_label("Suspension", exact=False).first.select_option("elevated_vacuum")
    page.get_by_label("Wear schedule").fill("1, 2, four")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_text("“four” is not a number of hours.")).to_be_visible()
    page.get_by_label("Wear schedule").fill("1, 2, 4")
    assert faults(page) == []
    page.get_by_role("button", name="Keep").click()
    expect(beside).to_contain_text("uspension switched")
    expect(beside).to_contain_text("elevated vacuum")


def test_what_stands_against_a_socket_is_asked_about_and_the_reason_stands_in_the_story(
    clinic: Clinic, desk_page: Page
) -> None:
    heavy = checkin("", date.today() - timedelta(days=1), weight_kg=122.1)
    limb_id = logged(clinic, "Torben Hask", heavy)
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}/socket")
    for name in ("How it was made", "Material", "Suspension"):
        expect(page.get_by_label(name)).to_have_value("")
    for name in ("Liner thickness", "Body-weight limit"):
        expect(page.get_by_role("textbox", name=name)).to_have_value("")
    page.get_by_label("Purpose").select_option("definitive")
    page.get_by_role("textbox", name="Body-weight limit").fill("100 kg")
    page.get_by_role("button", name="Add the socket").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("122.1 kg on")
    assert faults(page) == []
    dialog.get_by_role("button", name="Back to the form").click()
    expect(page.get_by_role("textbox", name="Body-weight limit")).to_have_value("100 kg")
    assert len(clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["sockets"]) == 1

    page.get_by_role("button", name="Add the socket").click()
    dialog.get_by_label("Why you go on").fill("A stronger part is ordered.")
    dialog.get_by_role("button", name="Add it all the same").click()
    beside = page.get_by_role("complementary")
    expect(beside).to_contain_text("Stood against it: 122.1 kg")
    expect(beside).to_contain_text("A stronger part is ordered.")
