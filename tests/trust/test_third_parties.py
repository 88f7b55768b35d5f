"""Neither app asks anybody but its own server for anything (OWASP ASVS 5.0, 14.2.3), seen from inside the browser."""

from __future__ import annotations

from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from tests.actors import Server
from tests.chromium import PATIENCE
from tests.journeys import clinic as desk
from tests.journeys.phones import clinic_at, phone_in

pytestmark = pytest.mark.journey


def watched(context: BrowserContext) -> list[str]:
    """Every address that anything in this profile asks for, the service worker included."""
    asked: list[str] = []
    context.on("request", lambda request: asked.append(request.url))
    return asked


def others(asked: list[str], server: Server) -> list[str]:
    own = urlsplit(server.url).netloc
    parts = [(address, urlsplit(address)) for address in asked]
    return [address for address, part in parts if part.scheme not in ("blob", "data") and part.netloc != own]


def test_a_phone_that_joins_logs_and_looks_asks_only_its_own_server(browser: Browser, server: Server) -> None:
    with clinic_at(server) as clinic:
        code = clinic.code(clinic.person("Anouk"))
        phone = phone_in(browser, server.url, service_workers="allow")
        asked = watched(phone.context)
        phone.open()
        phone.join(code)
        phone.works_offline()
        phone.log()
        phone.says("With your clinic")
        phone.context.close()
    assert len(asked) > 15 and any("/api/sync" in address for address in asked)
    assert others(asked, server) == []


def test_the_clinics_screens_ask_only_their_own_server(browser: Browser, server: Server) -> None:
    with clinic_at(server) as clinic:
        limb_id = desk.logged(clinic, "Anouk")
        page = browser.new_page()
        asked, complaints = watched(page.context), []
        page.on("console", lambda said: complaints.append(said.text) if "Security Policy" in said.text else None)
        desk.sign_in(page, server.url, server.login, server.password)
        for path in (f"limbs/{limb_id}", f"limbs/{limb_id}/plan", "people", "settings", "chair-time", "audit"):
            page.goto(f"{server.url}/clinic/#/{path}")
            expect(page.locator("#screen")).to_have_attribute("data-shows", path)
            page.wait_for_load_state("networkidle")
        page.context.close()
    assert any("chart" in address for address in asked) and any(limb_id in address for address in asked)
    assert others(asked, server) == [] and complaints == []


def test_a_page_that_asked_somebody_else_would_be_found_and_is_refused_by_the_policy(
    browser: Browser, server: Server
) -> None:
    page = browser.new_page()
    page.set_default_timeout(PATIENCE)
    asked = watched(page.context)
    page.goto(f"{server.url}/clinic/")
    refused = page.evaluate("fetch('https://elsewhere.example/x').then(() => 'went', () => 'refused')")
    page.evaluate(
        "new Promise(done => { const i = new Image(); i.onerror = i.onload = done;"
        " i.src = 'https://elsewhere.example/i'; })"
    )
    with pytest.raises(Exception, match="Content Security Policy"):
        page.add_script_tag(content="window.ran = 1")  # an inline script
    page.context.close()
    assert refused == "refused"
    assert "https://elsewhere.example/i" in others(asked, server)  # seen by the watch, and stopped by the policy
