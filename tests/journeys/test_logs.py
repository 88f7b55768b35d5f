"""Phone and clinic used in a browser with every log at DEBUG: no log and no other file holds what was said.

OWASP ASVS 5.0, 14.2.1 (nothing of a person in an address) and 16.2.5 (nothing of a person in a log).
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote_plus

import pytest
from playwright.sync_api import Browser, Page, Response, expect

from plytide.settings import WEB_ROOT
from tests.actors import Server, free_port, plytide, stop, wait_until_ready
from tests.http.test_photos import SECRET, jpeg
from tests.journeys.clinic import sign_in, to
from tests.journeys.phones import clinic_at, phone_in

pytestmark = pytest.mark.journey

PASSWORD = "canary quokka over the weir"
NAME, NOTE, CLINIC_NOTE, REASON = (
    "Quillon Canaryname",
    "canary-note-xanthic",
    "canary-clinicnote-zephyr",
    "canary-reason-vesper",
)
SEARCHED, LOOKED_UP, WRONG = "canaryname", "quillon can", "canary-wrongpassword"
DATABASES = (".db", ".db-wal", ".db-shm")


@dataclass
class Heard:
    """A running server, and the file everything it says goes to."""

    server: Server
    log: Path


@pytest.fixture
def heard(tmp_path: Path) -> Iterator[Heard]:
    data, log, port = tmp_path / "data", tmp_path / "everything.log", free_port()
    named = ("--clinic", "Marram Yard Clinic", "--login", "ida")
    assert plytide("init", "--data", str(data), *named, PLYTIDE_PASSWORD=PASSWORD).returncode == 0
    with log.open("w") as out:
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.journeys.serve_heard", str(data), str(port)],
            cwd=WEB_ROOT.parent, stdin=subprocess.DEVNULL, stdout=out, stderr=out, text=True, start_new_session=True,
        )  # fmt: skip
        try:
            url = f"http://127.0.0.1:{port}"
            wait_until_ready(f"{url}/", process, log)
            yield Heard(Server(url, data, "ida", PASSWORD, process), log)
        finally:
            stop(process)


def test_no_log_and_no_other_file_holds_what_was_said(
    heard: Heard, browser: Browser, desk_page: Page, tmp_path: Path
) -> None:
    server, page = heard.server, desk_page
    secrets = [PASSWORD, SECRET, NAME, "Canaryname", NOTE, CLINIC_NOTE, REASON, SEARCHED, LOOKED_UP, WRONG]
    addresses: list[str] = []
    page.on("request", lambda request: addresses.append(request.url))
    with clinic_at(server) as clinic:
        person = clinic.person(NAME)
        (limb_id,) = clinic.limbs(person)
        code = clinic.code(person)
        secrets += [code, code.replace("-", "")]

        phone = phone_in(browser, server.url)
        phone.page.on("request", lambda request: addresses.append(request.url))
        phone.page.on("request", lambda request: secrets.append(request.headers.get("authorization", "")[7:]))
        phone.open(f"/phone/#enrol={code}")
        if phone.page.locator("#join").count():
            phone.tap("join")
        phone.tap("agree")
        phone.page.wait_for_selector("#log-0")
        phone.tap("log-0", "none")
        phone.add_sock(3)
        phone.tap("next", "fit-good", "comfort-4", "skin-found", "place-limb_end", "finding-redness", "minutes-20")
        picture = tmp_path / "skin.jpg"
        picture.write_bytes(jpeg())
        phone.page.set_input_files("#photo", str(picture))
        expect(phone.page.locator(".photos img")).to_be_visible()
        phone.tap("next")
        phone.page.click("#rest > summary")
        phone.page.fill("#note", NOTE)
        phone.tap("save")
        phone.page.wait_for_selector("#done")
        phone.says("With your clinic")
        phone.context.close()

    sign_in_wrongly(page, server)
    sign_in(page, server.url, server.login, server.password)
    with page.expect_response(lambda answer: SEARCHED in asked(answer)):
        page.get_by_role("searchbox").fill(SEARCHED)
    to(page, server.url, "people")
    with page.expect_response(lambda answer: LOOKED_UP in asked(answer)):
        page.get_by_role("searchbox").fill(LOOKED_UP)
    to(page, server.url, f"limbs/{limb_id}")
    page.get_by_label("Write a note").fill(CLINIC_NOTE)
    page.get_by_role("button", name="Keep note").click()
    expect(page.locator("#said")).to_contain_text("The note is kept.")
    to(page, server.url, f"limbs/{limb_id}/deed")
    page.get_by_label("What", exact=True).select_option("Relief made")
    page.get_by_role("button", name="Keep").click()
    page.get_by_role("button", name="Entered by mistake").click()
    page.get_by_role("dialog").get_by_label("Why").fill(REASON)
    page.get_by_role("button", name="Take it out").click()
    expect(page.locator("#said")).to_contain_text("Taken out.")
    page.goto(f"{server.url}/clinic/#/limbs/{limb_id}/visit")
    expect(page.locator(".sheet")).to_contain_text(NAME)
    page.pdf()
    for path in (
        f"limbs/{limb_id}/visit-page.pdf", f"limbs/{limb_id}/bundle.fhir.json", f"limbs/{limb_id}/checkins.csv",
        f"people/{person}/export.json", f"people/{person}/export.html",
    ):  # fmt: skip
        assert page.request.get(f"{server.url}/api/clinic/{path}").status == 200
    secrets += [cookie.get("value", "") for cookie in page.context.cookies()]

    stop(server.process)
    said = read(heard.log)
    assert "post /api/clinic/people/search" in said and "debug" in said  # the logs were on, and heard this
    sought = {secret.lower() for secret in secrets if secret}
    assert len(sought) >= 13  # a phone's token and a session's cookie were caught too
    assert [secret for secret in sought if secret in said] == []
    assert [url for url in addresses for secret in sought if secret in unquote_plus(url.split("#")[0]).lower()] == []
    files = [file for file in server.data.rglob("*") if file.is_file() and not file.name.endswith(DATABASES)]
    assert [(file.name, secret) for file in files for secret in sought if secret in read(file)] == []
    # The watch sees: the same words are where they belong.
    kept = b"".join(file.read_bytes() for file in (server.data / "clinics").iterdir())
    assert NOTE.encode() in kept and CLINIC_NOTE.encode() in kept and SECRET.encode() not in kept


def read(file: Path) -> str:
    """A file's text as it is and as an address would be read, in small letters."""
    text = file.read_bytes().decode(errors="replace")
    return f"{text} {unquote_plus(text)}".lower()


def asked(answer: Response) -> str:
    """What a call asked for, in its address or its body."""
    return f"{unquote_plus(answer.url)} {answer.request.post_data or ''}"


def sign_in_wrongly(page: Page, server: Server) -> None:
    page.goto(f"{server.url}/clinic/")
    page.get_by_label("Sign-in name").fill(server.login)
    page.get_by_label("Password").fill(WRONG)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("alert")).to_be_visible()
