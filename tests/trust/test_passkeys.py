"""Passkeys in a real browser with a virtual authenticator (WebAuthn level 3, section 11)."""

from __future__ import annotations

import json
import urllib.error
import urllib.request
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.actors import Server
from tests.chromium import PATIENCE

pytestmark = pytest.mark.journey

# Calls from the page itself, as the clinic's own scripts make them.
SCRIPTS = """
window.api = async (method, path, body, csrf) => {
  const answer = await fetch('/api/clinic' + path, {method, body: body && JSON.stringify(body),
    headers: {'Content-Type': 'application/json', ...(csrf ? {'X-CSRF-Token': csrf} : {})}});
  return {status: answer.status, body: await answer.json()};
};
window.makePasskey = async (password, csrf) => {
  const begun = (await api('POST', '/passkeys/options', {password}, csrf)).body;
  const publicKey = PublicKeyCredential.parseCreationOptionsFromJSON(begun.options);
  const made = await navigator.credentials.create({publicKey});
  const credential = made.toJSON();
  return api('POST', '/passkeys', {challenge_id: begun.challenge_id, credential, label: 'Desk'}, csrf);
};
window.askPasskey = async () => {
  const begun = (await api('POST', '/session/passkey-options')).body;
  const publicKey = PublicKeyCredential.parseRequestOptionsFromJSON(begun.options);
  const given = await navigator.credentials.get({publicKey});
  return {challenge_id: begun.challenge_id, credential: given.toJSON()};
};
"""


def page_with_authenticator(browser: Browser, url: str, verified: bool = True) -> Page:
    page = browser.new_context().new_page()
    page.set_default_timeout(PATIENCE)
    devtools = page.context.new_cdp_session(page)
    devtools.send("WebAuthn.enable")
    options = {"protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True}
    made = devtools.send(
        "WebAuthn.addVirtualAuthenticator", {"options": {**options, "automaticPresenceSimulation": True}}
    )
    devtools.send("WebAuthn.setUserVerified", {"authenticatorId": made["authenticatorId"], "isUserVerified": verified})
    page.goto(f"{url}/clinic/")
    page.evaluate(SCRIPTS + "; null")  # not its last function, which would be called
    return page


def post(url: str, body: Any) -> int:
    call = urllib.request.Request(
        url, json.dumps(body).encode(), {"Content-Type": "application/json", "Host": "localhost"}, method="POST"
    )
    try:
        with urllib.request.urlopen(call, timeout=120) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as refused:
        refused.close()
        return refused.code


def api_now(page: Page, path: str) -> Any:
    return page.evaluate("path => fetch(path).then(answer => answer.json())", path)


def test_a_passkey_signs_in_once_per_challenge_and_ends_the_password_alone(
    browser: Browser, serve: Callable[..., Server]
) -> None:
    server = serve()
    url = server.url.replace("127.0.0.1", "localhost")  # a passkey is bound to a name, never to a number
    page = page_with_authenticator(browser, url)
    api: Callable[..., Any] = lambda *call: page.evaluate("call => api(...call)", list(call))  # noqa: E731
    signed_in = api("POST", "/session", {"login": server.login, "password": server.password})
    csrf = signed_in["body"]["csrf"]
    made = page.evaluate("([p, c]) => makePasskey(p, c)", [server.password, csrf])
    assert (made["status"], len(made["body"]["recovery_codes"])) == (201, 10)
    assert api("GET", "/second-factor")["body"]["passkeys"][0]["label"] == "Desk"
    assert api("DELETE", "/session", None, csrf)["status"] == 200

    alone = api("POST", "/session", {"login": server.login, "password": server.password})
    assert (alone["status"], alone["body"]["error"]["code"]) == (401, "code-needed")

    answer = page.evaluate("askPasskey()")
    twisted = {
        **answer,
        "credential": {**answer["credential"], "response": {**answer["credential"]["response"], "signature": "AAAA"}},
    }
    assert api("POST", "/session/passkey", twisted)["status"] == 401
    assert api("POST", "/session/passkey", answer)["status"] == 401  # its challenge was used up by the try before
    answer = page.evaluate("askPasskey()")
    opened = api("POST", "/session/passkey", answer)
    assert (opened["status"], opened["body"]["staff"]["login"]) == (200, server.login)
    assert post(f"{server.url}/api/clinic/session/passkey", answer) == 401  # replayed

    # Removed on the page of one's own account, which asks for the password first: without it, it stays.
    page.goto(f"{url}/clinic/#/me")
    page.reload()
    for password, left in (("not the password", 1), (server.password, 0)):
        page.locator("[data-passkey]").click()
        page.locator("dialog input[name=password]").fill(password)
        page.get_by_role("button", name="Remove the passkey").click()
        page.get_by_text("The password is wrong" if left else "The passkey is removed").wait_for()
        assert len(api_now(page, "/api/clinic/second-factor")["passkeys"]) == left

    # The right answer to the right challenge, made for another site's name.
    moved = page_with_authenticator(browser, server.url)
    begun = moved.evaluate("api('POST', '/session/passkey-options')")
    assert begun["status"] == 200
    with pytest.raises(Exception, match="(?i)invalid domain|SecurityError|relying party"):
        moved.evaluate("askPasskey()")
    page.context.close()
    moved.context.close()
