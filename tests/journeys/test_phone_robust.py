"""Nothing is lost on the phone, whatever the browser, the network, the clock or another tab do."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import time
import urllib.request
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Error, Page, Route, expect

from seed_demo.door import HttpDoor
from tests import chromium
from tests.actors import Server
from tests.journeys.conftest import Deployed
from tests.journeys.phones import Clinic, Phone
from tests.storage.test_full_disk import fill, mount

pytestmark = pytest.mark.journey

FIXTURES = Path(__file__).resolve().parents[1] / "web" / "fixtures"


def joined(clinic: Clinic, phone: Phone, **about: Any) -> str:
    """A new person whose phone this is; the id of their limb."""
    person = clinic.person("Anouk", **about)
    phone.linked(clinic.code(person))
    return clinic.limbs(person)[0]


def comforts(clinic: Clinic, limb: str) -> list[int]:
    return sorted(one["comfort"] for one in clinic.checkins(limb))


def break_storage(phone: Phone, error: str) -> None:
    """Every transaction from now on fails with this error, until `heal()`."""
    phone.page.evaluate(
        """(error) => {
          const real = IDBDatabase.prototype.transaction;
          window.heal = () => { IDBDatabase.prototype.transaction = real; };
          IDBDatabase.prototype.transaction = () => { throw new DOMException('broken', error); };
        }""",
        error,
    )


def devtools(page: Page) -> Any:
    return page.context.new_cdp_session(page)


def test_a_week_without_a_network_arrives_whole_and_once(clinic: Clinic, installed: Phone):
    phone = installed
    limb = joined(clinic, phone)
    phone.works_offline()
    phone.offline()
    phone.page.reload()
    for comfort in range(3, 8):
        phone.page.wait_for_selector("#log-0")
        phone.log(comfort=comfort)
        phone.tap("done")
    phone.says("5 entries are saved on this phone")
    phone.offline(False)
    phone.says("All your entries are with your clinic")
    assert comforts(clinic, limb) == [3, 4, 5, 6, 7]


def test_an_answer_lost_on_the_way_does_not_double_the_entry(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    lost: list[int] = []

    def lose_first(route: Route) -> None:
        if not lost and '"comfort"' in (route.request.post_data or ""):
            lost.append(route.fetch().status)  # the clinic keeps it, the phone never hears
            route.abort("connectionreset")
        else:
            route.continue_()

    phone.context.route("**/api/sync", lose_first)
    phone.log(comfort=6)
    phone.tap("done", "nav-more", "send-now")
    phone.says("All your entries are with your clinic")
    assert (lost, comforts(clinic, limb)) == ([200], [6])


@pytest.mark.parametrize("status", [503])
def test_a_clinic_that_answers_with_a_fault_gets_the_entry_later(clinic: Clinic, phone: Phone, status: int):
    limb = joined(clinic, phone)
    error = {"error": {"code": "fault", "message": "no", "fields": {}}}
    phone.context.route("**/api/**", lambda route: route.fulfill(status=status, body=json.dumps(error)))
    phone.log(comfort=5)
    phone.says("Saved on this phone")
    phone.says("We can’t reach your clinic now")
    phone.context.unroute("**/api/**")
    phone.page.reload()
    phone.says("All your entries are with your clinic")
    assert comforts(clinic, limb) == [5]


def test_a_page_that_is_not_the_clinic_is_no_answer(clinic: Clinic, phone: Phone):
    joined(clinic, phone)
    page = "<html>Sign in to this hotel</html>"
    phone.context.route("**/api/**", lambda route: route.fulfill(status=200, content_type="text/html", body=page))
    phone.log()
    phone.says("We can’t reach your clinic now")
    assert [row["state"] for row in phone.held()] == ["waiting"]


def test_three_tabs_send_an_entry_once_and_all_show_it(clinic: Clinic, installed: Phone):
    phone = installed
    limb = joined(clinic, phone)
    phone.works_offline()
    phone.offline()
    phone.log(comfort=7)
    others = [phone.context.new_page() for _ in range(2)]
    sent: list[str] = []
    phone.context.on(
        "request", lambda request: sent.append(request.post_data or "") if "/sync" in request.url else None
    )
    for other in others:
        other.goto(f"{phone.url}/phone/")
        expect(other.locator("body")).to_contain_text("Saved on this phone")
    phone.offline(False)
    for page in (phone.page, *others):
        # The one that saved says it of the entry, the others' first page of them all.
        expect(page.locator("body")).to_contain_text("with your clinic", ignore_case=True)
    assert sum('"comfort":7' in body for body in sent) == 1
    assert comforts(clinic, limb) == [7]


def test_a_half_filled_form_survives_a_reload(clinic: Clinic, phone: Phone):
    joined(clinic, phone)
    phone.tap("log-0", "none")
    phone.add_sock(5)
    phone.tap("next", "fit-good")
    phone.keeps('"step":"comfort"')
    phone.page.reload()
    phone.says("You have started")
    phone.tap("log-0", "comfort-4", "skin-fine")
    phone.says("5‑ply")
    phone.tap("save")
    phone.says("With your clinic")


def test_a_dead_connection_heals_and_a_wiped_store_is_filled_again(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    phone.log(comfort=3)
    phone.says("With your clinic")
    phone.tap("done")
    phone.page.wait_for_selector("#log-0")
    origin = {"origin": phone.url, "storageTypes": "indexeddb"}
    devtools(phone.page).send("Storage.clearDataForOrigin", origin)
    phone.tap("log-0", "none")
    phone.add_sock(1)
    phone.tap("next", "fit-good", "comfort-9", "skin-fine", "save")
    phone.says("With your clinic")
    phone.tap("done")
    phone.says("Your entries are back")
    assert comforts(clinic, limb) == [3, 9]
    assert sorted(row["checkin"]["comfort"] for row in phone.held()) == [3, 9]


def test_a_store_wiped_between_visits_is_noticed_and_told(clinic: Clinic, installed: Phone):
    phone = installed
    joined(clinic, phone)
    phone.log(comfort=3)
    phone.says("With your clinic")
    phone.works_offline()
    phone.tap("done")
    phone.offline()
    phone.log(comfort=9)
    phone.says("Saved on this phone")
    phone.page.goto("about:blank")  # an open page would notice by itself, and say so before it is opened again
    devtools(phone.page).send("Storage.clearDataForOrigin", {"origin": phone.url, "storageTypes": "indexeddb"})
    phone.open()
    phone.says("This phone’s copy was cleared")
    phone.says("lost with it: your entries of these days: Today")
    phone.offline(False)
    phone.says("Your entries are back")
    assert [row["checkin"]["comfort"] for row in phone.held()] == [3]
    phone.page.reload()
    phone.says("Please log them again")  # until it is read
    phone.page.get_by_role("button", name="I have seen this").click()
    expect(phone.page.locator("body")).not_to_contain_text("Please log them again")
    phone.page.reload()
    phone.page.wait_for_selector("#log-0")
    assert "Please log them again" not in phone.page.inner_text("body")


def test_a_connection_that_keeps_failing_says_not_saved_and_keeps_the_form(clinic: Clinic, phone: Phone):
    joined(clinic, phone)
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-2", "skin-fine")
    break_storage(phone, "UnknownError")
    phone.tap("save")
    phone.says("Not saved yet")
    phone.page.evaluate("heal()")
    phone.tap("save")
    phone.says("With your clinic")
    assert [row["checkin"]["comfort"] for row in phone.held()] == [2]


def test_a_full_phone_says_so_and_saves_once_there_is_room(clinic: Clinic, phone: Phone):
    # The browser's own quota override does not reach IndexedDB here, so its answer is put in its place.
    limb = joined(clinic, phone)
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-6", "skin-fine")
    break_storage(phone, "QuotaExceededError")
    phone.tap("save")
    phone.says("this phone is full")
    phone.page.evaluate("heal()")
    phone.tap("save")
    phone.says("With your clinic")
    assert comforts(clinic, limb) == [6]


def test_a_private_window_works_with_a_network_and_says_what_it_cannot_keep(clinic: Clinic, phone: Phone):
    phone.context.add_init_script(
        "IDBFactory.prototype.open = () => { throw new DOMException('private', 'SecurityError'); }"
    )
    person = clinic.person("Anouk")
    phone.open()
    phone.join(clinic.code(person))
    phone.says("can’t keep entries")
    phone.log(comfort=8)
    phone.says("With your clinic")
    assert comforts(clinic, clinic.limbs(person)[0]) == [8]


def test_a_revoked_phone_keeps_its_entries_and_a_new_code_sends_them(clinic: Clinic, phone: Phone):
    person = clinic.person("Anouk")
    phone.linked(clinic.code(person))
    (device,) = clinic.staff.call("GET", f"/api/clinic/people/{person}/devices")["devices"]
    phone.offline()
    phone.log(comfort=4)
    clinic.staff.call("DELETE", f"/api/clinic/devices/{device['id']}")
    phone.offline(False)
    phone.tap("done")
    phone.says("no longer linked")
    assert [row["state"] for row in phone.held()] == ["waiting"]
    phone.page.get_by_role("button", name="Type a code").click()
    phone.join(clinic.code(person))
    phone.says("All your entries are with your clinic")
    assert comforts(clinic, clinic.limbs(person)[0]) == [4]


def test_another_persons_code_never_sends_what_waited_for_the_first(clinic: Clinic, phone: Phone):
    person = clinic.person("Anouk")
    phone.linked(clinic.code(person))
    (device,) = clinic.staff.call("GET", f"/api/clinic/people/{person}/devices")["devices"]
    phone.offline()
    phone.log(comfort=4)
    clinic.staff.call("DELETE", f"/api/clinic/devices/{device['id']}")
    phone.offline(False)
    phone.tap("done")
    phone.says("no longer linked")
    other = clinic.person("Dov")
    phone.page.get_by_role("button", name="Type a code").click()
    phone.join(clinic.code(other))
    phone.tap("nav-more", "send-now")
    phone.page.wait_for_timeout(500)
    assert [row["state"] for row in phone.held()] == ["waiting"]
    assert comforts(clinic, clinic.limbs(other)[0]) == []


def test_a_clock_a_day_slow_is_noticed_and_the_entry_is_marked(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    phone.page.clock.set_fixed_time(datetime.now() - timedelta(days=1))
    phone.page.reload()
    phone.says("The clock of this phone looks wrong")
    phone.log(comfort=5)
    phone.says("With your clinic")
    (kept,) = clinic.checkins(limb)
    assert kept["doubt"] == "clock"


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Pago_Pago"])
def test_the_date_is_the_wearers_own(clinic: Clinic, new_phone: Callable[..., Phone], zone: str):
    phone = new_phone(timezone_id=zone)
    limb = joined(clinic, phone)
    phone.log()
    phone.says("With your clinic")
    (kept,) = clinic.checkins(limb)
    local = phone.page.evaluate("new Date().toLocaleDateString('sv-SE')")
    assert (kept["date"], kept["zone"]) == (local, zone)


def test_an_update_keeps_unsent_entries_and_never_takes_a_half_filled_form(
    clinic: Clinic, deployed: Deployed, new_phone: Callable[..., Phone]
):
    phone = new_phone(deployed.url, service_workers="allow")
    limb = joined(clinic, phone)
    phone.works_offline()
    (first,) = shell_versions(phone)
    expect(phone.page.locator("body")).not_to_contain_text("A new version is ready")
    phone.context.route("**/api/sync", lambda route: route.abort())
    phone.tap("log-0", "sign-sock_stuck", "next")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-4", "skin-fine", "save", "done")
    phone.says("Do not wear the socket now")
    phone.tap("log-0", "none-same")
    deployed.deploy("second")
    look_for_update(phone)
    phone.says("A new version is ready")
    assert len(shell_versions(phone)) == 2
    phone.page.get_by_role("button", name="Use it now").click()
    phone.says("You have started")
    assert first not in shell_versions(phone)
    phone.says("Do not wear the socket now")
    phone.context.unroute("**/api/sync")
    phone.tap("log-0", "fit-good", "comfort-5", "skin-fine", "save")
    phone.says("With your clinic")
    assert comforts(clinic, limb) == [4, 5]


def test_three_versions_in_a_row_end_at_the_last(clinic: Clinic, deployed: Deployed, new_phone: Callable[..., Phone]):
    phone = new_phone(deployed.url, service_workers="allow")
    joined(clinic, phone)
    phone.works_offline()
    for name in ("second", "third", "fourth"):
        deployed.deploy(name)
        phone.page.wait_for_timeout(250)
        phone.page.wait_for_selector("html[data-ready=yes]")
        look_for_update(phone)
    with urllib.request.urlopen(f"{deployed.url}/phone/sw.js") as script:
        wanted = script.read().decode().split('"')[3]
    for _ in range(120):
        if shell_versions(phone) == [f"plytide-shell-{wanted}"]:
            break
        # An install that met half a deploy was given up whole; the browser looks again, here sooner than by itself.
        look_for_update(phone)
        phone.page.wait_for_timeout(1000)
    assert shell_versions(phone) == [f"plytide-shell-{wanted}"]


def test_a_version_that_is_not_whole_is_not_taken(clinic: Clinic, deployed: Deployed, new_phone: Callable[..., Phone]):
    """A file missing, then a file of another version under the worker's feet: the phone goes on with what it has."""
    phone = new_phone(deployed.url, service_workers="allow")
    joined(clinic, phone)
    phone.works_offline()
    before = shell_versions(phone)
    content = (deployed.web / "phone" / "diary.js").read_text()
    (deployed.web / "phone" / "diary.js").unlink()
    deployed.deploy("half")
    updated = "navigator.serviceWorker.getRegistration().then((one) => one.update()).then(() => 'took', () => 'stayed')"
    assert phone.page.evaluate(updated) == "stayed"
    assert shell_versions(phone) == before
    (deployed.web / "phone" / "diary.js").write_text(content)
    phone.context.route(  # a network's own page in the place of a module, with 200
        "**/phone/diary.js", lambda route: route.fulfill(status=200, content_type="text/html", body="<p>Sign in</p>")
    )
    phone.page.evaluate(updated)
    phone.page.wait_for_function(
        "navigator.serviceWorker.getRegistration().then((one) => !one.installing && !one.waiting)"
    )
    assert shell_versions(phone) == before
    phone.page.reload()
    phone.says("Your first line starts today")


def look_for_update(phone: Phone) -> None:
    """Not waited for: the page may reload itself the moment a new version is ready, also while it is asked."""
    for _ in range(300):
        try:
            phone.page.evaluate("void navigator.serviceWorker.getRegistration().then((one) => one.update())")
            return
        except Error:
            phone.page.wait_for_timeout(100)
    raise AssertionError("the page does not come to rest")


def shell_versions(phone: Phone) -> list[str]:
    for _ in range(600):
        try:
            return phone.page.evaluate("caches.keys()")  # type: ignore[no-any-return]
        except Error:  # the page is on its way to a new version
            phone.page.wait_for_timeout(50)
    raise AssertionError("the page does not come to rest")


def test_only_the_shell_is_cached(clinic: Clinic, installed: Phone):
    phone = installed
    joined(clinic, phone)
    phone.works_offline()
    phone.log()
    phone.says("With your clinic")
    cached = phone.page.evaluate(CACHED)
    assert len(cached) > 30
    assert [path for path in cached if not path.startswith(("/phone/", "/shared/"))] == []


CACHED = (
    "caches.keys().then(async (names) => (await Promise.all(names.map(async (name) =>"
    " (await (await caches.open(name)).keys()).map((one) => new URL(one.url).pathname)))).flat())"
)


def test_a_phone_keeps_the_languages_spoken_on_it_and_no_others(clinic: Clinic, installed: Phone, deployed: Deployed):
    phone = installed
    phone.url = deployed.url
    joined(clinic, phone)
    phone.works_offline()
    words = "/phone/words/"
    assert [path for path in phone.page.evaluate(CACHED) if path.startswith(words)] == [f"{words}en.js"]
    phone.tap("nav-more", "language-ar")
    phone.says("حجم الخط")
    phone.offline()
    phone.page.reload()
    phone.page.wait_for_selector("#log-0")
    expect(phone.page.locator("html")).to_have_attribute("lang", "ar")
    phone.tap("nav-more", "language-de")
    phone.says("تحتاج هذه اللغة إلى شبكة")
    phone.offline(False)
    before = shell_versions(phone)
    deployed.deploy("another")
    phone.page.reload()
    for _ in range(600):
        phone.page.wait_for_timeout(100)
        if len(now := shell_versions(phone)) == 1 and now != before:
            break
    cached = [path for path in phone.page.evaluate(CACHED) if path.startswith(words)]
    assert sorted(cached) == [f"{words}ar.js", f"{words}en.js"]


def test_what_the_screen_called_saved_survives_the_death_of_the_browser(
    clinic: Clinic, journey_server: Server, browser: Browser, tmp_path: Path
):
    profile = tmp_path / "profile"
    path = chromium.executable(browser.browser_type.executable_path)

    def opened() -> Phone:
        context = browser.browser_type.launch_persistent_context(
            profile, executable_path=path, args=chromium.ARGS, viewport={"width": 360, "height": 740}
        )
        context.set_default_timeout(chromium.PATIENCE)
        return Phone(context, context.pages[0], journey_server.url)

    phone = opened()
    limb = joined(clinic, phone)
    phone.works_offline()
    phone.offline()
    phone.log(comfort=2)
    kill_browser_of(profile)
    again = opened()
    again.open()
    again.says("All your entries are with your clinic")
    again.context.close()
    assert comforts(clinic, limb) == [2]


def kill_browser_of(profile: Path) -> None:
    """The browser process this test started, told by its own profile folder; until it and all it started are gone."""
    for main in [one for one, command in processes_of(profile) if "--type=" not in command]:
        os.kill(main, signal.SIGKILL)
    for _ in range(600):
        if not processes_of(profile):
            return
        time.sleep(0.1)
    raise AssertionError("the browser does not go")


def processes_of(profile: Path) -> list[tuple[int, str]]:
    found = []
    for entry in Path("/proc").iterdir():
        try:
            command = (entry / "cmdline").read_bytes().decode(errors="replace")
        except OSError:
            continue
        if str(profile) in command and "chrom" in command:
            found.append((int(entry.name), command))
    return found


@pytest.mark.parametrize("kept", sorted(FIXTURES.glob("diary-v*.json")), ids=lambda path: path.stem)
def test_a_phone_that_stood_still_since_this_version_sends_all_it_holds(
    clinic: Clinic, phone: Phone, journey_server: Server, kept: Path
):
    """One fixture for each version of the phone's own store, for ever."""
    person = clinic.person("Anouk")
    limb = clinic.limbs(person)[0]
    token, device = enrolled(journey_server.url, clinic.code(person))
    text = kept.read_text().replace("LIMB", limb).replace("PERSON", person)
    text = text.replace("TOKEN", token).replace("DEVICE", device).replace("DATE", str(date.today()))
    phone.page.goto(f"{phone.url}/shared/places.js")
    phone.page.evaluate(STORE, json.loads(text))
    phone.open()
    phone.says("You have started")
    phone.says("All your entries are with your clinic")
    assert comforts(clinic, limb) == [4, 9]
    phone.tap("log-0", "none", "comfort-6", "skin-fine")
    phone.says("5‑ply")


def enrolled(url: str, code: str) -> tuple[str, str]:
    door = HttpDoor(url)
    try:
        status, answer, _ = door.call("POST", "/api/enrol", {"code": code, "label": "Old phone"})
        assert status in (200, 201), answer
        return answer["token"], answer["device_id"]
    finally:
        door.connection.close()


# Version 1 of the store, as it was made: written out here so that a change of the app can't change it too.
STORE = """(kept) => new Promise((done, failed) => {
  const request = indexedDB.open('plytide', kept.version);
  request.onerror = () => failed(request.error);
  request.onupgradeneeded = () => {
    const db = request.result;
    db.createObjectStore('accounts', { keyPath: 'device_id' });
    const checkins = db.createObjectStore('checkins', { keyPath: 'id' });
    checkins.createIndex('limb', 'limb_id');
    checkins.createIndex('state', 'state');
    db.createObjectStore('photos', { keyPath: 'id' }).createIndex('state', 'state');
    db.createObjectStore('small');
  };
  request.onsuccess = () => {
    const all = request.result.transaction(['accounts', 'checkins', 'small'], 'readwrite');
    for (const name of ['accounts', 'checkins']) for (const row of kept.stores[name]) all.objectStore(name).put(row);
    for (const [key, value] of Object.entries(kept.small)) all.objectStore('small').put(value, key);
    all.oncomplete = () => { request.result.close(); done(); };
  };
})"""


def test_what_was_not_sent_can_be_saved_to_a_file(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    phone.offline()
    phone.log(comfort=6)
    phone.tap("done", "nav-more")
    with phone.page.expect_download() as download:
        phone.tap("export")
    held = json.loads(download.value.path().read_text())
    assert (held["plytide_export"], [(one["limb_id"], one["comfort"]) for one in held["checkins"]]) == (1, [(limb, 6)])


def test_two_phones_write_and_correct_the_same_day_and_end_up_alike(clinic: Clinic, new_phone: Callable[..., Phone]):
    person = clinic.person("Bram", born_on="2017-11-20")
    limb = clinic.limbs(person)[0]
    own, helper = new_phone(), new_phone()
    for phone, role in ((own, "wearer"), (helper, "caregiver")):
        phone.linked(clinic.code(person, role=role))
    own.log(comfort=7)
    own.says("With your clinic")
    helper.page.reload()
    helper.says("Comfort 7")
    for phone, comfort in ((own, 2), (helper, 9)):
        phone.offline()
        if phone is own:
            phone.tap("done")
        phone.tap("nav-days")
        phone.page.locator(".entry").first.click()
        phone.tap("correct", "change-comfort", f"comfort-{comfort}", "save")
        phone.tap("done")
    helper.offline(False)
    helper.says("All your entries are with your clinic")
    own.offline(False)
    own.says("All your entries are with your clinic")
    helper.page.reload()
    for phone in (own, helper):
        phone.says("Comfort 2")  # the later to arrive
        assert len(phone.held()) == 3
    assert comforts(clinic, limb) == [2, 7, 9]


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of its own for a browser's profile; needs the right to mount one."""
    place = tmp_path / "small"
    place.mkdir()
    if not mount("-t", "tmpfs", "-o", "size=160m", "tmpfs", str(place)):
        pytest.skip("mounting a file system needs root")
    yield place
    subprocess.run(["umount", "--lazy", str(place)], check=True, timeout=20)


def test_a_disk_that_is_really_full_loses_nothing_and_is_said(
    clinic: Clinic, journey_server: Server, browser: Browser, small_disk: Path
):
    path = chromium.executable(browser.browser_type.executable_path)
    context = browser.browser_type.launch_persistent_context(
        small_disk / "profile", executable_path=path, args=chromium.ARGS, viewport={"width": 360, "height": 740}
    )
    phone = Phone(context, context.pages[0], journey_server.url)
    try:
        limb = joined(clinic, phone)
        phone.log(comfort=3)
        phone.says("With your clinic")
        phone.works_offline()
        phone.tap("done")
        phone.offline()
        phone.tap("log-0", "none")
        phone.tap("same", "fit-good", "comfort-6", "skin-fine")
        filler = fill(small_disk)
        phone.tap("save")
        phone.says("Not saved")  # a browser says of a full disk now that it is full, now that something went wrong
        filler.unlink()
        phone.as_slow_as_a_hand()
        phone.tap("save")
        phone.says("Saved on this phone")
        phone.offline(False)
        phone.says("With your clinic")
        assert comforts(clinic, limb) == [3, 6]
    finally:
        context.close()


@pytest.mark.parametrize("days", [3, -3])
def test_a_clock_that_jumps_while_a_form_is_open_moves_no_entry(clinic: Clinic, phone: Phone, days: int):
    """Forward or back, it asks which day is meant; what would lie ahead by its clock waits until that is right."""
    limb = joined(clinic, phone)
    today = phone.page.evaluate("new Date().toLocaleDateString('sv-SE')")
    phone.page.clock.set_fixed_time(datetime.now())
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-4", "skin-fine")
    phone.page.wait_for_selector("#save")
    phone.page.clock.set_fixed_time(datetime.now() + timedelta(days=days))
    phone.tap("save")
    phone.says("Which day is this for?")
    phone.tap("day-then", "save")
    if days < 0:
        phone.says("This day has not come yet. Check the date on the phone.")
        assert phone.held() == []
        phone.page.clock.set_fixed_time(datetime.now())
        phone.as_slow_as_a_hand()
        phone.tap("save")
    phone.page.wait_for_selector("#done")
    phone.says("With your clinic")
    assert [(one["comfort"], one["date"]) for one in clinic.checkins(limb)] == [(4, today)]
