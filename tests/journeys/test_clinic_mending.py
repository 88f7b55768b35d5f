"""What was entered wrongly is mended on the limb's own page, with an undo; decisions and consents stand where they are
read.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.clinic import faults, sign_in
from tests.journeys.phones import Clinic

pytestmark = pytest.mark.journey

ON = str(date.today() - timedelta(days=3))
LEVELS = [(0, 240.0), (40, 280.0), (80, 300.0)]


def at_limb(page: Page, clinic: Clinic, limb_id: str) -> None:
    server = clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}")
    expect(page.locator(".work")).to_be_visible()


def test_a_measurement_is_corrected_on_its_own_form_and_the_correction_undone(clinic: Clinic, desk_page: Page) -> None:
    (limb_id,) = clinic.limbs(clinic.person("Odile Marsh"))
    levels = [{"from_end_mm": height, "circumference_mm": girth, "name": None} for height, girth in LEVELS]
    path, story = f"/api/clinic/limbs/{limb_id}/measurements", f"/api/clinic/limbs/{limb_id}"
    wrong = {"on": ON, "levels": levels, "weight_kg": 77.123, "measured_by": "Nell"}
    first = clinic.staff.call("POST", path, wrong)["id"]
    page = desk_page
    at_limb(page, clinic, limb_id)

    page.get_by_role("link", name="Correct: Measured").click()
    expect(page.locator("#girth-0")).to_have_value("300")
    expect(page.locator("#on")).to_have_value(ON)
    assert faults(page) == []
    page.locator("#girth-0").fill("308")
    page.get_by_label("Why it is corrected").fill("Misread the tape.")
    page.get_by_role("button", name="Keep the measurement").click()
    expect(page.locator("#said")).to_contain_text("Corrected.")
    (kept,) = clinic.staff.call("GET", story)["measurements"]
    assert kept["id"] != first
    assert [one["circumference_mm"] for one in kept["levels"]] == [308, 280, 240]
    assert (kept["weight_kg"], kept["measured_by"], kept["on"]) == (77.123, "Nell", ON)  # what was not touched

    page.get_by_text("Corrected or taken out: 1").click()
    expect(page.locator("[data-corrected]")).to_contain_text("Misread the tape.")
    assert faults(page) == []
    page.get_by_role("button", name="Undo", exact=True).click()
    expect(page.locator("#said")).to_contain_text("The correction is undone.")
    (kept,) = clinic.staff.call("GET", story)["measurements"]
    assert kept["id"] == first


def test_a_pad_entered_by_mistake_goes_out_with_a_reason_and_comes_back(clinic: Clinic, desk_page: Page) -> None:
    (limb_id,) = clinic.limbs(clinic.person("Piet Sandling"))
    (socket,) = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["sockets"]
    clinic.staff.call(
        "POST", f"/api/clinic/sockets/{socket['id']}/pads", {"on": ON, "thickness_mm": 1.5, "place": "calf"}
    )
    page = desk_page
    at_limb(page, clinic, limb_id)
    work = page.locator(".work")
    page.get_by_role("button", name="Entered by mistake: Pad").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_role("button", name="Take it out").click()  # without a reason it stays open
    expect(dialog).to_be_visible()
    assert faults(page) == []
    dialog.get_by_label("Why").fill("Wrong person.")
    dialog.get_by_role("button", name="Take it out").click()
    expect(work).to_contain_text("Nothing entered yet.")
    assert clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["pads"] == []
    page.reload()
    work.get_by_text("Corrected or taken out: 1").click()
    work.get_by_role("button", name="Put back: Pad").click()
    expect(page.locator("#said")).to_contain_text("It counts again.")
    expect(work.get_by_role("link", name="Correct: Pad")).to_be_visible()

    work.get_by_role("link", name="Correct: Pad").click()
    page.get_by_role("textbox", name="Thickness").fill("2.5")
    page.get_by_role("button", name="Keep").click()
    expect(work).to_contain_text("Pad, 2.5 mm, calf")


def test_a_deed_is_corrected_and_the_decision_stands_beside_it_and_on_paper(clinic: Clinic, desk_page: Page) -> None:
    (limb_id,) = clinic.limbs(clinic.person("Rosalind Fenn"))
    path = f"/api/clinic/limbs/{limb_id}"
    clinic.staff.call("POST", f"{path}/interventions", {"on": ON, "kind": "Reline by hand", "note": "Left side."})
    for n, choice in enumerate(("wait", "diagnostic-now")):
        told = {
            "on": str(date.today() - timedelta(days=1 - n)),
            "choice": choice,
            "reasons": ["Skin first."],
            "note": None,
        }
        clinic.staff.call("POST", f"{path}/decisions", told)
    page = desk_page
    at_limb(page, clinic, limb_id)
    page.get_by_role("link", name="Correct: Reline by hand").click()
    expect(page.get_by_label("More")).to_have_value("Left side.")
    page.get_by_label("What", exact=True).select_option("Relief made")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator(".work")).to_contain_text("Relief made: Left side.")

    lines = page.locator(".decided li")
    expect(lines).to_have_count(2)
    expect(lines.first).to_contain_text("Diagnostic socket now")
    for words in ("Wait", "ida", "Skin first."):
        expect(lines.last).to_contain_text(words)
    page.goto(f"{clinic.server.url}/clinic/#/limbs/{limb_id}/visit")
    expect(page.locator(".sheet")).to_contain_text("diagnostic socket now. Skin first.")


def test_a_consent_on_paper_is_recorded_on_the_persons_page(clinic: Clinic, desk_page: Page) -> None:
    person = clinic.person("Silas Orme")
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/people/{person}")
    page.get_by_role("button", name="Record a consent on paper").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("taken back").check()
    dialog.get_by_label("Date on the paper").fill(ON)
    dialog.get_by_label("What for").fill("Photos for teaching")
    assert faults(page) == []
    dialog.get_by_role("button", name="Keep").click()
    expect(page.locator(".consents")).to_contain_text("Taken back on paper: Photos for teaching")
    expect(page.locator(".consents")).to_contain_text("by Silas Orme")
    (kept,) = clinic.staff.call("GET", f"/api/clinic/people/{person}/consents")["paper"]
    assert (kept["given"], kept["on"]) == (False, ON)


def test_own_log_is_chosen_on_the_persons_form(clinic: Clinic, desk_page: Page) -> None:
    person = clinic.person("Tamsin Quill", born_on=str(date.today() - timedelta(days=15 * 365)))
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/people/{person}")
    for choice, is_so in (("yes", True), ("no", False)):
        page.get_by_role("link", name="Change facts").click()
        page.get_by_label("Own log").select_option(choice)
        with page.expect_response(lambda answer: answer.request.method == "PATCH"):
            page.get_by_role("button", name="Keep").click()
        expect(page.get_by_role("link", name="Change facts")).to_be_visible()  # back on the person's page
        expect(page.locator("#said")).to_contain_text("Kept.")
        kept = clinic.staff.call("GET", f"/api/clinic/people/{person}")
        assert (kept["own_log"], kept["name"]) == (is_so, "Tamsin Quill")
    page.get_by_role("link", name="Change facts").click()
    expect(page.get_by_label("Own log")).to_have_value("no")
