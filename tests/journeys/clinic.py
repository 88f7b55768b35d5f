"""What the clinic's journeys share: sign in, wait for a screen, look at it with axe."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

QUICK = 8_000  # ms; a screen that takes longer is broken


def sign_in(page: Page, url: str, login: str, password: str) -> None:
    page.set_default_timeout(QUICK)
    page.goto(f"{url}/clinic/")
    page.get_by_label("Sign-in name").fill(login)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()


def to_demo(page: Page, about: dict[str, Any]) -> None:
    """Signed in to the demo by the ready session, on today's list."""
    name, value = about["staff_session"]["cookie"].split(";")[0].split("=", 1)
    page.set_default_timeout(QUICK)
    page.context.add_cookies([{"name": name, "value": value, "url": about["url"]}])
    page.goto(f"{about['url']}/clinic/")
    expect(page.locator(".row").first).to_be_visible()


def faults(page: Page) -> list[str]:
    """What axe finds wrong with the page as it stands, one line each."""
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {one['help']}: {node['html'][:120]}" for one in found for node in one["nodes"]]
