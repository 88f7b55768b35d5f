"""Staff's own way in: an authenticator app, recovery codes, a passkey, sessions; and who works here."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pyotp
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.actors import PASSWORD, Server
from tests.chromium import PATIENCE
from tests.journeys.clinic import faults, sign_in, to

pytestmark = pytest.mark.journey


@pytest.fixture
def own_server(serve: Callable[..., Server]) -> Iterator[Server]:
    yield serve()


def confirm(page: Page, words: str) -> None:
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("Password").fill(PASSWORD)
    dialog.get_by_role("button", name=words).click()


def test_an_app_is_set_up_and_asked_for_and_a_recovery_code_opens_once(own_server: Server, desk_page: Page) -> None:
    page, server = desk_page, own_server
    sign_in(page, server.url, server.login, server.password)
    page.get_by_role("link", name=server.login).click()
    page.get_by_role("button", name="Set up").click()
    confirm(page, "Go on")
    secret = page.locator(".fresh .hint b").inner_text().replace(" ", "")
    assert faults(page) == []
    page.get_by_label("The six figures it shows now").fill("000000")
    page.get_by_role("button", name="Turn it on").click()
    expect(page.get_by_role("alert").filter(has_text="not the app’s code")).to_have_count(0)
    expect(page.locator(".fresh .problem")).to_be_visible()
    page.get_by_label("The six figures it shows now").fill(pyotp.TOTP(secret).now())
    page.get_by_role("button", name="Turn it on").click()
    codes = page.locator(".recovery li")
    expect(codes).to_have_count(10)
    spare = codes.first.inner_text()
    assert faults(page) == []
    page.get_by_role("button", name="I have them").click()
    expect(page.get_by_text("10 left")).to_be_visible()

    page.get_by_role("button", name="Sign out").click()
    page.get_by_label("Sign-in name").fill(server.login)
    page.get_by_label("Password").fill(server.password)
    page.get_by_role("button", name="Sign in", exact=True).click()
    code = page.get_by_label(re.compile("Code of your app"))
    expect(code).to_be_focused()
    code.fill(spare)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    to(page, server.url, "me")
    expect(page.get_by_text("9 left")).to_be_visible()


def test_a_passkey_made_on_this_screen_signs_in_without_a_password(own_server: Server, browser: Browser) -> None:
    url = own_server.url.replace("127.0.0.1", "localhost")  # a passkey is bound to a name, never to a number
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    devtools = context.new_cdp_session(page)
    devtools.send("WebAuthn.enable")
    options = {"protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True}
    made = {**options, "automaticPresenceSimulation": True, "isUserVerified": True}
    devtools.send("WebAuthn.addVirtualAuthenticator", {"options": made})
    sign_in(page, url, own_server.login, own_server.password)
    to(page, url, "me")
    page.get_by_role("button", name="Add a passkey of this computer").click()
    confirm(page, "Go on")
    expect(page.locator(".recovery li")).to_have_count(10)
    page.get_by_role("button", name="I have them").click()
    expect(page.get_by_text("Passkey:")).to_be_visible()
    page.get_by_role("button", name="Sign out").click()
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    context.close()


def test_a_manager_adds_somebody_and_lets_them_go(own_server: Server, desk_page: Page) -> None:
    page, server = desk_page, own_server
    sign_in(page, server.url, server.login, server.password)
    to(page, server.url, "staff")
    page.get_by_label("Name", exact=True).fill("Oda Fenwick")
    page.get_by_label("Sign-in name").fill("oda")
    page.get_by_label("Role").select_option("assistant")
    page.get_by_role("button", name="Add").click()
    link = page.get_by_label("Link", exact=True).input_value()
    theirs = page.context.browser.new_context()  # type: ignore[union-attr]
    other = theirs.new_page()
    other.set_default_timeout(PATIENCE)
    other.goto(link)
    other.get_by_label("New password", exact=True).fill("password123456")
    other.get_by_label("New password, once more").fill("password123456")
    other.get_by_role("button", name="Keep it").click()
    expect(other.get_by_role("alert")).to_contain_text("lists that guessers try")
    assert "code=" not in other.url
    other.get_by_label("New password", exact=True).fill("nine herons in a row")
    other.get_by_label("New password, once more").fill("nine herons in a row")
    other.get_by_role("button", name="Keep it").click()
    expect(other.get_by_label("Sign-in name")).to_be_visible()  # else the next page is asked for before the answer
    sign_in(other, server.url, "oda", "nine herons in a row")
    expect(other.get_by_role("button", name="Sign out")).to_be_visible()
    theirs.close()
    page.get_by_role("button", name="I have given it").click()
    expect(page.get_by_role("listitem").filter(has_text="Oda Fenwick")).to_be_visible()
    assert faults(page) == []
    page.get_by_role("button", name="has left").click()
    page.get_by_role("dialog").get_by_role("button", name="Yes, shut the door").click()
    expect(page.get_by_role("listitem").filter(has_text="Oda Fenwick")).to_have_count(0)


def test_a_person_is_exported_and_erased_only_by_typing_the_name(own_server: Server, desk_page: Page) -> None:
    page, server = desk_page, own_server
    sign_in(page, server.url, server.login, server.password)
    to(page, server.url, "people/new")
    page.get_by_label("Name", exact=False).first.fill("Perrin Vale")
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.get_by_role("heading", name="Residual limb of Perrin Vale")).to_be_visible()
    page.get_by_role("link", name="Cancel").click()
    with page.expect_download() as taken:
        page.get_by_role("link", name="for a machine").click()
    assert "Perrin Vale" in taken.value.path().read_text()
    assert faults(page) == []

    page.locator("[data-phone-file]").set_input_files(
        {"name": "log.json", "mimeType": "application/json", "buffer": b"not json"}
    )
    expect(page.locator("#said")).to_contain_text("This is not a file a phone made.")

    page.get_by_role("button", name="Ask for this person to be erased").click()
    page.get_by_role("dialog").get_by_role("button", name="Ask").click()
    page.get_by_role("button", name="Erase for good…").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("Name").fill("Somebody Else")
    dialog.get_by_role("button", name="Erase").click()
    expect(page.locator("#said")).to_contain_text("This is not the person's name.")
    page.get_by_role("button", name="Erase for good…").click()
    dialog.get_by_label("Name").fill("Perrin Vale")
    dialog.get_by_role("button", name="Erase").click()
    expect(page.locator("#said")).to_contain_text("The person is erased.")
    expect(page.get_by_text("Nobody is here yet.")).to_be_visible()

    to(page, server.url, "audit")
    expect(page.get_by_text("erasure: ask")).to_be_visible()
    assert faults(page) == []
