"""A clinic's first day: from an empty list to a phone that writes."""

from __future__ import annotations

import json
import re
import urllib.request

import pytest
from playwright.sync_api import Page, expect

from tests.actors import Server
from tests.journeys.clinic import faults, sign_in

pytestmark = pytest.mark.journey

# What of the code lies under the words said last, wherever the page is scrolled to.
COVERED = """() => {
  const found = [];
  for (const to of [0, 1e6]) {
    scrollTo(0, to);
    const over = document.querySelector('#said p').getBoundingClientRect();
    for (const one of document.querySelectorAll('.code > *')) {
      const { left, right, top, bottom } = one.getBoundingClientRect();
      if (left < over.right && right > over.left && top < over.bottom && bottom > over.top) found.push(one.className || one.tagName);
    }
  }
  return found;
}"""


def enrol(url: str, code: str) -> dict[str, object]:
    body = json.dumps({"code": code, "label": "Kitchen phone"}).encode()
    call = urllib.request.Request(f"{url}/api/enrol", body, {"Content-Type": "application/json"})
    with urllib.request.urlopen(call, timeout=300) as answer:
        said: dict[str, object] = json.load(answer)
    return said


def test_a_new_clinic_adds_a_person_a_limb_a_socket_and_a_phone(server: Server, desk_page: Page) -> None:
    page = desk_page
    sign_in(page, server.url, server.login, server.password)
    expect(page.get_by_text("Nobody is on the list yet.")).to_be_visible()
    assert faults(page) == []

    page.get_by_role("link", name="Add the first person").click()
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.get_by_text("Name is needed.")).to_be_visible()
    page.get_by_label("Name").fill("Wren <b>Tolliver</b>")
    page.get_by_label("diabetes").check()
    page.get_by_role("button", name="Add", exact=True).click()

    page.get_by_label("Side").select_option("left")
    page.get_by_label("Level").select_option("transtibial")
    girth = page.get_by_role("textbox", name="Reference circumference")
    girth.fill("11 3/4 in")
    expect(page.get_by_text("= 298.5 mm")).to_be_visible()
    girth.fill("1175")
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.get_by_text("1175 mm is unusual.")).to_be_visible()
    girth.fill("11 3/4 in")
    page.get_by_role("button", name="Add", exact=True).click()

    page.get_by_label("Purpose").select_option("preparatory")
    page.get_by_role("button", name="Add a sock").click()
    page.get_by_label("Ply").select_option("3")
    expect(page.get_by_text("1.2 mm together")).to_be_visible()
    page.get_by_role("textbox", name="Body-weight limit").fill("275 lb")
    assert faults(page) == []
    page.get_by_role("button", name="Add the socket").click()

    expect(page.get_by_role("heading", name="Wren <b>Tolliver</b>")).to_be_visible()
    expect(page.get_by_text("At fitting: 3-ply.")).to_be_visible()
    expect(page.get_by_text("limit 124.74 kg")).to_be_visible()

    page.get_by_role("link", name="Join a phone").click()
    page.get_by_role("button", name="Make a code").click()
    code = page.locator(".letters").inner_text()
    drawn = page.locator(".qr-place path").first.get_attribute("d")
    assert drawn and len(drawn) > 200
    # Whatever was said last does not lie over the code, however small the window.
    for size in ({"width": 1280, "height": 800}, {"width": 1024, "height": 600}, {"width": 390, "height": 700}):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        page.evaluate("document.getElementById('said').innerHTML = '<p>The socket is kept. Twelve words more.</p>'")
        assert page.evaluate(COVERED) == [], size
    page.set_viewport_size({"width": 1280, "height": 800})
    assert faults(page) == []
    assert enrol(server.url, code)["role"] == "wearer"

    page.get_by_role("link", name=re.compile("Wren")).click()
    expect(page.get_by_text("Kitchen phone")).to_be_visible()
    page.get_by_role("button", name="shut out").click()
    page.get_by_role("dialog").get_by_role("button", name="Shut it out").click()
    expect(page.get_by_text("shut out 2")).to_be_visible()
    expect(page.get_by_role("button", name="shut out")).to_have_count(0)


def test_a_wrong_password_is_told_and_nothing_is_shown(server: Server, desk_page: Page) -> None:
    page = desk_page
    page.goto(f"{server.url}/clinic/#/people")
    page.get_by_label("Sign-in name").fill(server.login)
    page.get_by_label("Password").fill("not the password")
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("alert")).not_to_be_empty()
    expect(page.get_by_role("navigation")).to_have_count(0)
    assert faults(page) == []
