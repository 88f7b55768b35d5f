"""The two pictures of the README, taken anew of a real demo: `python -m tests.pictures`.

Starts `plytide demo` on a free port, joins it with a phone, signs in at the clinic, and writes
`web/pictures/phone.webp` and `web/pictures/worklist.webp`. Needs Chromium, as the journeys do.
"""

from __future__ import annotations

import io
import json
import subprocess
import sys
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

from seed_demo.door import door_to, sign_in
from tests import chromium

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "web" / "pictures"
WAIT = 60_000


def keep(page: Page, name: str) -> None:
    FOLDER.mkdir(exist_ok=True)
    with Image.open(io.BytesIO(page.screenshot())) as picture:
        picture.convert("RGB").save(FOLDER / f"{name}.webp", quality=60, method=6)


def phone(page: Page, url: str, code: str) -> None:
    """Join, and stand on the first page once the entries have come."""
    page.goto(f"{url}/phone/#enrol={code}")
    for id_ in ("join", "agree"):
        page.wait_for_selector(f"#{id_}", timeout=WAIT)
        page.wait_for_timeout(700)  # a screen takes no tap in its first half second
        page.click(f"#{id_}")
    page.wait_for_selector(".tide-picture .column", timeout=WAIT)
    page.wait_for_timeout(2000)
    keep(page, "phone")


def worklist(page: Page, url: str, clinic: dict[str, str]) -> None:
    page.goto(f"{url}/clinic/")
    page.fill("[name=login]", clinic["login"])
    page.fill("[name=password]", clinic["password"])
    page.press("[name=password]", "Enter")
    page.wait_for_selector(".row", timeout=WAIT)
    page.wait_for_timeout(1500)
    keep(page, "worklist")


def main() -> None:
    command = [sys.executable, "-m", "plytide.cli", "demo", "--port", "0", "--json"]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as running, sync_playwright() as play:
        try:
            assert running.stdout is not None
            said = json.loads(next(line for line in running.stdout if line.startswith("{")))
            url, clinic = said["url"], said["clinic"]
            staff = sign_in(door_to(url), clinic["login"], clinic["password"])
            wearer = next(one for one in said["phones"] if one["role"] == "wearer" and len(one["limb_ids"]) == 1)
            path = f"/api/clinic/people/{wearer['person_id']}/enrolment-codes"
            code = staff.call("POST", path, {"role": "wearer"})["code"]
            found = chromium.executable(play.chromium.executable_path)
            if found is None:
                raise SystemExit(chromium.HOW)
            browser = play.chromium.launch(executable_path=found, args=chromium.ARGS)
            phone(browser.new_page(viewport={"width": 360, "height": 740}), url, code)
            worklist(browser.new_page(viewport={"width": 1280, "height": 800}), url, clinic)
            browser.close()
        finally:
            running.terminate()
            running.communicate(timeout=60)
    for picture in sorted(FOLDER.glob("*.webp")):
        print(f"{picture.relative_to(ROOT)}: {picture.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
