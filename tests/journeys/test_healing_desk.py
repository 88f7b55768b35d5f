"""Places of skin at the desk that no picture has: not said where, measured and corrected since, still there."""

from __future__ import annotations

import os
from datetime import date, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.actors import checkin
from tests.journeys.clinic import RULES, call, faults, sign_in, to
from tests.journeys.phones import Clinic

pytestmark = pytest.mark.journey

LOOK = os.environ.get("PLYTIDE_LOOK")


def test_the_desk_reads_a_place_not_said_one_that_is_still_there_and_what_it_measured_itself(
    clinic: Clinic, desk_page: Page
) -> None:
    person = clinic.person("Wren Tolliver")
    (limb_id,) = clinic.limbs(person)
    token = call(clinic.server.url, "/api/enrol", {"code": clinic.code(person), "label": "Wren's phone"})["token"]

    def send(*entries: dict[str, object]) -> None:
        body = {"schema": 1, "cursor": None, "checkins": list(entries)}
        sent = call(clinic.server.url, "/api/sync", body, Authorization=f"Bearer {token}")
        assert {one["status"] for one in sent["receipts"]} == {"kept"}

    first, then = date.today() - timedelta(days=3), date.today() - timedelta(days=1)
    found = [{"place": place, "finding": "blister"} for place in ("calf", "limb_end", "not_said")]
    log = checkin(limb_id, first, skin=found, skin_checked=True)
    send(log)
    size = {"place": "calf", "what": "size", "on": first.isoformat(), "length_mm": 14}
    clinic.staff.call("POST", f"/api/clinic/limbs/{limb_id}/healing", size)
    worse = [{"place": "limb_end", "course": "worse"}]
    send(
        checkin(limb_id, first, skin=found[1:], skin_checked=True, replaces=log["id"]),
        checkin(limb_id, then, skin=[], skin_checked=True, healing=worse),
    )

    page, server = desk_page, clinic.server
    sign_in(page, server.url, server.login, server.password)
    to(page, server.url, f"limbs/{limb_id}/healing")
    calf = page.locator(".thread", has_text="entry was corrected since")
    expect(calf).to_contain_text("Measured here; the entry was corrected since.")
    expect(calf.get_by_role("button", name="Enter a size…")).to_have_count(0)
    expect(page.locator(".thread", has_text="place not said")).to_contain_text("Open. Found last on")
    expect(page.locator(".thread", has_text="worse")).to_contain_text("still there")
    for theme, rules in RULES.items():
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        assert faults(page, *rules) == []
        for width, height in ((1280, 800), (360, 740)) if LOOK else ():
            page.set_viewport_size({"width": width, "height": height})
            page.screenshot(path=Path(str(LOOK)) / f"healing-kept-{width}-{theme}.png", full_page=True)
    calf.get_by_role("button", name="Take out").click()
    expect(page.get_by_text("Taken out.")).to_be_visible()
    expect(calf).to_have_count(0)
