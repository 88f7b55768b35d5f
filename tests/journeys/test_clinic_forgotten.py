"""A forgotten password, from the sign-in screen to a link in a real mail and back; and the address it goes to."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.actors import PASSWORD, Server
from tests.journeys.clinic import RULES, faults, sign_in, to
from tests.post import listening

pytestmark = pytest.mark.journey

CHOSEN = "nine herons in a row"


def test_an_address_is_kept_a_link_comes_and_a_new_password_opens(
    serve: Callable[..., Server], desk_page: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = desk_page
    with listening() as (box, url):
        monkeypatch.setenv("PLYTIDE_SMTP_URL", url)
        monkeypatch.setenv("PLYTIDE_PUBLIC_URL", "http://plytide.example")
        monkeypatch.setenv("PLYTIDE_SWEEP_SECONDS", "0.2")
        server = serve()
        sign_in(page, server.url, server.login, server.password)
        to(page, server.url, "me")
        for address, said in (("no address", "This must be a mail address"), ("ida@marram.example", "")):
            page.get_by_label("Your address").fill(address)
            page.get_by_role("button", name="Keep it").click()
            page.get_by_role("dialog").get_by_label("Password").fill(PASSWORD)
            page.get_by_role("dialog").get_by_role("button", name="Keep the address").click()
            expect(page.locator("#mail-fault")).to_contain_text(said)
        expect(page.get_by_text("ida@marram.example", exact=True)).to_be_visible()
        assert faults(page) == []
        page.get_by_role("button", name="Sign out").click()

        page.get_by_label("Sign-in name").fill("ida")
        page.get_by_role("button", name="Forgotten password?").click()
        expect(page.get_by_label("Sign-in name")).to_have_value("ida")
        page.get_by_role("button", name="Send me a link").click()
        expect(page.locator("#screen")).to_contain_text("a link is on its way")
        for _ in range(600):
            if box.mail:
                break
            page.wait_for_timeout(100)
        (link,) = [word for word in box.mail[0].get_content().split() if "code=" in word]  # type: ignore[attr-defined]
        assert link.startswith("http://plytide.example/clinic/#/new-password?code=")
        page.goto("about:blank")
        page.goto(link.replace("http://plytide.example", server.url))
        page.get_by_label("New password", exact=True).fill(CHOSEN)
        page.get_by_label("New password, once more").fill(CHOSEN)
        page.get_by_role("button", name="Keep it").click()
        expect(page.get_by_label("Sign-in name")).to_be_visible()
        sign_in(page, server.url, server.login, CHOSEN)


def test_the_form_speaks_plainly_where_no_mail_is_sent_and_fits_every_screen(server: Server, desk_page: Page) -> None:
    page = desk_page
    for width, height in ((360, 740), (1280, 800)):
        page.set_viewport_size({"width": width, "height": height})
        for theme, rules in RULES.items():
            page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
            page.goto(f"{server.url}/clinic/")
            page.reload()
            page.get_by_role("button", name="Forgotten password?").click()
            page.get_by_role("button", name="Send me a link").click()
            expect(page.get_by_role("alert")).to_have_text("Type your sign-in name.")
            page.get_by_label("Sign-in name").fill("anybody")
            page.get_by_role("button", name="Send me a link").click()
            expect(page.get_by_role("alert")).to_contain_text("Ask a manager of your clinic")
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
            assert faults(page, *rules) == []
            page.get_by_role("button", name="Back to sign-in").click()
            expect(page.get_by_label("Password")).to_be_visible()
