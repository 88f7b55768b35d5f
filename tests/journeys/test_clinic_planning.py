"""A recast planned and printed, the coming weeks' chair time, the clinic's own limits."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from playwright.sync_api import Page, expect

from tests.actors import Demo, checkin
from tests.journeys.clinic import RULES, faults, logged, sign_in, to, to_demo
from tests.journeys.phones import Clinic

pytestmark = pytest.mark.journey

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}


def a_limb(page: Page) -> str:
    """The limb of the first row of today's list."""
    return str(page.locator(".row").first.get_attribute("data-limb"))


def pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page[^s]", pdf))


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_screen_of_the_clinic_has_no_fault_axe_can_find(demo: Demo, desk_page: Page, theme: str) -> None:
    page = desk_page
    complaints: list[str] = []  # of the content security policy among others
    page.on("console", lambda said: complaints.append(said.text) if said.type in ("error", "warning") else None)
    page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
    to_demo(page, demo.about)
    limb = a_limb(page)
    child = page.locator(".row", has_text="Ezra").get_attribute("data-limb")
    person = str(page.locator(".peek a[href^='#/people/']").get_attribute("href")).removeprefix("#/")
    found = {}
    for path in (
        f"limbs/{child}", f"limbs/{limb}/plan", f"limbs/{limb}/visit", f"limbs/{limb}/payer", f"limbs/{limb}/measure",
        f"limbs/{limb}/socket", "chair-time", "own-record", "settings", "people", person, f"{person}/phone", "me", "staff",
    ):  # fmt: skip
        to(page, demo.url, path)
        if here := faults(page, *RULES[theme]):
            found[path] = here
    assert found == {}
    assert complaints == []


def test_a_recast_is_planned_with_its_reasons_and_taken_back(clinic: Clinic, desk_page: Page) -> None:
    days = [checkin("", date.today() - timedelta(days=back), fit="good", skin_checked=True) for back in range(40)]
    limb_id = logged(clinic, "Maude Ferrow", *days)
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}/plan")
    expect(page.get_by_role("heading", name="How ready")).to_be_visible()
    expect(page.get_by_text("Shape of the residual limb")).to_be_visible()
    expect(page.get_by_role("region", name="Days of good fit, table").get_by_role("row")).to_have_count(5)
    expect(page.locator(".item.stop, .item.unknown").first).to_be_visible()
    formed = page.locator(".checklists > div", has=page.get_by_role("heading", name="Formed on the limb"))
    expect(formed.locator(".item").first).to_contain_text("maker’s instructions")
    expect(page.locator("[data-margin]")).to_contain_text("0.25 mm")
    page.get_by_role("button", name="Keep the decision").click()
    expect(page.get_by_role("alert")).to_have_text("Choose a way first.")

    page.get_by_role("radio", name=re.compile("Diagnostic socket now")).check()
    page.get_by_label("Planned for").fill(str(date.today() + timedelta(days=9)))
    page.get_by_label("In your words").fill("She travels in December.")
    page.get_by_role("button", name="Keep the decision").click()
    decided = page.locator(".plan .notes li")
    expect(decided).to_contain_text("She travels in December.")
    (kept,) = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}/plan")["decisions"]
    assert kept["planned_on"] == str(date.today() + timedelta(days=9))
    assert kept["reasons"]

    page.goto(f"{server.url}/clinic/#/chair-time")
    expect(page.get_by_text("In stock for 1 planned recast")).to_be_visible()
    expect(page.get_by_text("1-ply sock")).to_be_visible()
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("In stock for 0 planned recasts")).to_be_visible()


def test_the_plan_asks_why_and_puts_the_ways_in_order_for_it(clinic: Clinic, desk_page: Page) -> None:
    days = [
        checkin("", date.today() - timedelta(days=back), fit="good", comfort=9, skin_checked=True) for back in range(27)
    ]
    limb_id = logged(clinic, "Odo Ferrant", *days)
    socket = {"fitted_on": str(date.today() - timedelta(days=27)), "purpose": "definitive"}
    clinic.staff.call("POST", f"/api/clinic/limbs/{limb_id}/sockets", socket)
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}/plan")
    expect(page.get_by_role("radio", name="None seen.")).to_be_checked()
    expect(page.locator(".way").first).to_contain_text("Keep this socket")
    expect(page.locator(".way").first).to_contain_text("Comfort averages 9.0 of 10")
    page.get_by_role("radio", name="The socket is broken.").check()
    expect(page.locator(".way").first).to_contain_text(re.compile("Diagnostic socket now|Cast for a definitive"))
    expect(page.get_by_text("What broke, and under what")).to_be_visible()
    assert faults(page) == []

    page.get_by_role("radio", name=re.compile("Diagnostic socket now")).check()
    page.get_by_label("Book the visit for that day").check()
    page.get_by_label("Time of the visit").fill("09:30")
    page.get_by_label("Planned for").fill(str(date.today() + timedelta(days=9)))
    page.get_by_role("button", name="Keep the decision").click()
    expect(page.locator(".plan .notes li")).to_contain_text("The socket is broken.")
    (visit,) = clinic.staff.call("GET", f"/api/clinic/limbs/{limb_id}")["visits"]
    assert (visit["on"], visit["time"]) == (str(date.today() + timedelta(days=9)), "09:30")


def test_chair_time_says_why_each_limb_is_counted(demo: Demo, desk_page: Page) -> None:
    page = desk_page
    to_demo(page, demo.about)
    to(page, demo.url, "chair-time")
    page.get_by_text("from whom?").first.click()
    week = page.locator(".weeks > li").first
    expect(week.locator("li", has_text="Svetlana").first).to_contain_text("Definitive socket was planned by")
    expect(week.get_by_text("without a reason")).to_be_visible()
    # A name or a reason without a space widens nothing, nor does the bar on a small tablet.
    page.evaluate("document.querySelector('.weeks .plain-list a').textContent = 'Wolfe'.repeat(24)")
    page.evaluate("document.querySelector('.weeks .plain-list .hint').textContent = 'lång'.repeat(50)")
    for wide in (1280, 1024, 768, 390):
        page.set_viewport_size({"width": wide, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, wide


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("sheet", ["visit", "payer"])
def test_the_visit_and_the_payers_page_print_on_one_sheet(demo: Demo, desk_page: Page, sheet: str, paper: str) -> None:
    page = desk_page
    to_demo(page, demo.about)
    limb = a_limb(page)
    page.goto(f"{demo.url}/clinic/#/limbs/{limb}/{sheet}")
    expect(page.locator(".sheet h1")).to_be_visible()
    wide, high = PAPERS[paper]
    assert pages(page.pdf(width=f"{wide}mm", height=f"{high}mm")) == 1
    page.emulate_media(media="print")
    page.set_viewport_size({"width": int((wide - 28) / 25.4 * 96), "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    expect(page.get_by_role("button", name="Print")).to_be_hidden()
    expect(page.locator("#bar")).to_be_hidden()
    served = page.request.get(f"{demo.url}/api/clinic/limbs/{limb}/{sheet}-page.pdf?paper={paper.lower()}")
    assert served.status == 200
    assert served.body().startswith(b"%PDF")
    assert pages(served.body()) == 1


def test_the_clinics_own_limit_is_kept_and_an_impossible_one_refused(clinic: Clinic, desk_page: Page) -> None:
    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    page.goto(f"{server.url}/clinic/#/settings")
    margin = page.get_by_label("Margin of “steady”")
    margin.fill("9")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_role("alert")).to_have_text("This must be a number from 0.2 to 3.")
    margin.fill("0,9")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("#said")).to_contain_text("Kept.")
    assert clinic.staff.call("GET", "/api/clinic/settings")["thresholds"]["steady_margin_mm"]["value"] == 0.9
    margin.fill("")
    page.get_by_role("button", name="Keep").click()
    expect(margin).to_have_value("0.7")
