"""What the clinic's journeys share: sign in, wait for a screen, look at it with axe."""

from __future__ import annotations

import json
import urllib.request
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.chromium import PATIENCE
from tests.journeys.phones import Clinic

#: By theme: every rule once, and what a theme can change once more in the dark.
RULES: dict[str, tuple[str, ...]] = {"light": (), "dark": ("color-contrast",)}


def sign_in(page: Page, url: str, login: str, password: str) -> None:
    page.set_default_timeout(PATIENCE)
    page.goto(f"{url}/clinic/")
    page.get_by_label("Sign-in name").fill(login)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    expect(page.locator("#screen[data-shows]")).to_be_visible()


def to_demo(page: Page, about: dict[str, Any]) -> None:
    """Signed in to the demo by the ready session, on today's list."""
    name, value = about["staff_session"]["cookie"].split(";")[0].split("=", 1)
    page.context.add_cookies([{"name": name, "value": value, "url": about["url"]}])
    page.goto(f"{about['url']}/clinic/")
    expect(page.locator(".row").first).to_be_visible()


def to(page: Page, url: str, path: str) -> None:
    """Another screen, shown."""
    page.goto(f"{url}/clinic/#/{path}")
    expect(page.locator("#screen")).to_have_attribute("data-shows", path)


def faults(page: Page, *only: str) -> list[str]:
    """What axe finds wrong with the page as it stands, one line each; `only` names the rules to try."""
    options: dict[str, Any] = {"resultTypes": ["violations"], **({"runOnly": list(only)} if only else {})}
    found = Axe().run(page, options=options).response["violations"]
    return [f"{one['id']}: {one['help']}: {node['html'][:120]}" for one in found for node in one["nodes"]]


def call(url: str, path: str, body: Any, **headers: str) -> Any:
    """A phone's own call to the server."""
    request = urllib.request.Request(
        f"{url}{path}", json.dumps(body).encode(), {"Content-Type": "application/json", **headers}
    )
    with urllib.request.urlopen(request, timeout=300) as answer:
        return json.load(answer)


def logged(clinic: Clinic, name: str, *checkins: Any, **about: Any) -> str:
    """A new person whose phone has sent these check-ins; the id of their limb."""
    person = clinic.person(name, **about)
    (limb_id,) = clinic.limbs(person)
    url = clinic.server.url
    token = call(url, "/api/enrol", {"code": clinic.code(person), "label": f"{name}'s phone"})["token"]
    items = [{**one, "limb_id": limb_id} for one in checkins]
    sent = call(url, "/api/sync", {"schema": 1, "cursor": None, "checkins": items}, Authorization=f"Bearer {token}")
    assert [one["status"] for one in sent["receipts"]] == ["kept"] * len(items)
    # Each look at the list reads the news of a few limbs; those of other journeys may come before this one's.
    looks = (clinic.staff.call("GET", "/api/clinic/worklist?limit=1")["waiting"] for _ in range(200))
    assert 0 in looks
    return limb_id
