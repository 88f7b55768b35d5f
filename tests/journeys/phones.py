"""A phone in somebody's hand: a real page on a real server, and what that person does with it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Error, Page, expect

from seed_demo.door import HttpDoor, Staff, sign_in
from tests.actors import Server
from tests.chromium import PATIENCE

PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
SOCKET = {
    "fitted_on": str(date.today() - timedelta(days=90)),
    "purpose": "preparatory",
    "suspension": "pin_lock",
    "stack_at_fitting": [{"ply": 3, "make": "single"}],
}
LEFT = {
    "side": "left",
    "level": "transtibial",
    "amputated_on": str(date.today() - timedelta(days=200)),
    "reference_circumference_mm": 300,
}


@dataclass
class Clinic:
    """Staff at a running server, who make people and codes."""

    server: Server
    staff: Staff

    def person(self, name: str, limbs: Sequence[dict[str, Any]] = (LEFT,), **about: Any) -> str:
        fields = {"name": name, "born_on": "1968-04-02", "tags": [], **about}
        person_id: str = self.staff.call("POST", "/api/clinic/people", fields)["id"]
        for limb in limbs:
            limb_id = self.staff.call("POST", f"/api/clinic/people/{person_id}/limbs", limb)["id"]
            self.staff.call("POST", f"/api/clinic/limbs/{limb_id}/sockets", SOCKET)
        return person_id

    def code(self, *person_ids: str, role: str = "wearer") -> str:
        wanted = {"role": role, "person_ids": list(person_ids)}
        path = f"/api/clinic/people/{person_ids[0]}/enrolment-codes"
        code: str = self.staff.call("POST", path, wanted)["code"]
        return code

    def limbs(self, person_id: str) -> list[str]:
        person = self.staff.call("GET", f"/api/clinic/people/{person_id}")
        return [limb["id"] for limb in person["limbs"]]

    def checkins(self, limb_id: str) -> list[dict[str, Any]]:
        story = self.staff.call("GET", f"/api/clinic/limbs/{limb_id}")
        return [one for day in story["days"] for one in day["checkins"]]


@contextmanager
def clinic_at(server: Server) -> Iterator[Clinic]:
    door = HttpDoor(server.url)
    try:
        yield Clinic(server, sign_in(door, server.login, server.password))
    finally:
        door.connection.close()


@dataclass
class Phone:
    """One browser profile and its page."""

    context: BrowserContext
    page: Page
    url: str

    def open(self, where: str = "/phone/") -> None:
        self.page.goto(self.url + where)
        self.page.wait_for_selector("html[data-ready=yes]")

    def join(self, code: str) -> None:
        self.page.fill("#code", code)
        self.page.click("#join")
        self.page.click("#agree")
        self.page.wait_for_selector("#log-0")

    def linked(self, code: str) -> None:
        """Joined without a tap, for journeys about what comes after: by the app's own doors, with no app on."""
        self.page.goto(f"{self.url}/shared/places.js")
        self.page.evaluate(LINK, code)
        self.open()
        self.page.wait_for_selector("#log-0")

    def works_offline(self) -> None:
        """Wait until the service worker holds the shell and this page."""
        self.page.evaluate(
            "new Promise((done) => navigator.serviceWorker.controller ? done()"
            " : navigator.serviceWorker.addEventListener('controllerchange', () => done(), {once: true}))"
        )

    def tap(self, *ids: str) -> None:
        for one in ids:
            self.page.click(f"#{one}")
            if self.refused():
                self.as_slow_as_a_hand()
                self.page.click(f"#{one}")

    def refused(self) -> bool:
        """Whether the app took the last tap for the one before it: a test is faster than any hand."""
        try:
            return bool(self.page.evaluate("Boolean(window.lastTap?.defaultPrevented)"))
        except Error:  # the tap led to another page
            return False

    def as_slow_as_a_hand(self) -> None:
        """Before a tap where the last one was: sooner, it would be taken for the same tap again."""
        self.page.wait_for_timeout(650)

    def add_sock(self, ply: int, make: str = "single") -> None:
        if not self.page.locator("#another").get_attribute("open") is not None:
            self.page.click("#another > summary")
        self.tap(f"ply-{ply}", f"make-{make}", "add-sock")

    def log(self, comfort: int = 8, *, ply: int | None = 3, fit: str = "good") -> None:
        """Today's form from the home screen, all fine."""
        self.page.wait_for_selector("html[data-ready=yes]")  # after a reload, not before the taps are listened to
        self.tap("log-0", "none")
        self.page.wait_for_selector("#same, #another")
        if self.page.locator("#same").count():
            self.tap("same")
        else:
            self.add_sock(ply or 3)
            self.tap("next")
        self.tap(f"fit-{fit}")
        if fit != "good":
            self.tap("next")
        self.tap(f"comfort-{comfort}", "skin-fine", "save")
        self.page.wait_for_selector("#done")

    def offline(self, is_so: bool = True) -> None:
        self.context.set_offline(is_so)

    def says(self, text: str) -> None:
        expect(self.page.locator("body")).to_contain_text(text)

    def keeps(self, text: str) -> None:
        """Wait until the phone has kept this beside its entries: a step is shown sooner than its draft is kept."""
        self.page.wait_for_function(IS_KEPT, arg=text)

    def held(self) -> list[dict[str, Any]]:
        """The check-ins in this phone's own copy."""
        return self.page.evaluate(READ_ALL)  # type: ignore[no-any-return]


IS_KEPT = """(text) => new Promise((resolve) => {
  const request = indexedDB.open('plytide');
  request.onsuccess = () => {
    const all = request.result.transaction('small').objectStore('small').getAll();
    all.onsuccess = () => { request.result.close(); resolve(JSON.stringify(all.result).includes(text)); };
  };
})"""


LINK = """async (code) => {
  const [{ enrol }, { openDiary }] = await Promise.all([import('/phone/api.js'), import('/phone/diary.js')]);
  const link = await enrol(code, 'Phone', crypto.randomUUID().replaceAll('-', ''));
  const now = new Date();
  const consent = { at: now.toISOString(), on: now.toLocaleDateString('sv-SE'), words: 'consent-1-en' };
  const diary = await openDiary();
  await diary.putAccount({ ...link, epoch: null, cursor: null, next_visits: [], seen: {}, consent });
}"""


READ_ALL = """() => new Promise((resolve, reject) => {
  const request = indexedDB.open('plytide');
  request.onerror = () => reject(request.error);
  request.onsuccess = () => {
    const all = request.result.transaction('checkins').objectStore('checkins').getAll();
    all.onsuccess = () => { request.result.close(); resolve(all.result); };
  };
})"""


# A screen just shown takes nothing for half a second (web/phone/taps.js); here a twentieth is waited for each of them.
HASTY = """{ const real = window.setTimeout.bind(window);
  window.setTimeout = (act, ms, ...given) => real(act, ms === 500 ? 25 : ms, ...given); }"""


def phone_in(browser: Browser, url: str, *, hasty: bool = True, **more: Any) -> Phone:
    """Without a service worker, unless asked for: only what is opened offline needs one."""
    context = browser.new_context(**{**PHONE, "service_workers": "block", **more})
    if hasty:
        context.add_init_script(HASTY)
    context.add_init_script("addEventListener('click', (event) => (window.lastTap = event), true)")
    context.set_default_timeout(PATIENCE)
    page = context.new_page()
    return Phone(context, page, url)
