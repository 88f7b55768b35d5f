"""The wearer's own things: socks, photos, reminders, a new socket, consent, the picture by keyboard."""

from __future__ import annotations

import base64
import io
import json
from base64 import b64decode, b64encode
from datetime import date, datetime
from pathlib import Path
from typing import Any

import icalendar
import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from PIL import Image
from playwright.sync_api import expect

from tests.journeys.phones import Clinic, Phone

pytestmark = pytest.mark.journey


def joined(clinic: Clinic, phone: Phone, **about: Any) -> str:
    person = clinic.person("Anouk", **about)
    phone.linked(clinic.code(person))
    return person


def photo_with_a_place(path: Path) -> Path:
    """A photo as a camera takes it: large, on its side, with GPS in it."""
    picture = Image.effect_noise((2400, 1800), 40).convert("RGB")
    exif = Image.Exif()
    exif[0x0112] = 6  # turned by a quarter
    exif[0x010F] = "A camera"
    exif.get_ifd(0x8825)[1] = "N"
    picture.save(path, "JPEG", exif=exif)
    return path


def test_a_photo_taken_offline_arrives_small_and_stripped(clinic: Clinic, phone: Phone, tmp_path: Path):
    person = joined(clinic, phone)
    phone.offline()
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-6", "skin-found", "place-limb_end", "finding-redness")
    phone.tap("minutes-20")
    phone.page.set_input_files("#photo", photo_with_a_place(tmp_path / "limb.jpg"))
    expect(phone.page.locator(".photos img")).to_be_visible()
    phone.tap("next", "save")
    phone.says("Saved on this phone")
    held = phone.page.evaluate(PHOTOS)
    assert [one["state"] for one in held] == ["waiting"]
    assert held[0]["bytes"] < 1_400_000
    phone.offline(False)
    phone.says("With your clinic")
    limb = clinic.limbs(person)[0]
    (kept,) = until(lambda: clinic.staff.call("GET", f"/api/clinic/limbs/{limb}/photos")["photos"], phone)
    assert (kept["width"], kept["height"]) == (1200, 1600)
    (said,) = clinic.checkins(limb)
    assert said["photos"] == [kept["id"]]
    # It stays here, too, until two backups at the clinic have it.
    assert until(lambda: [one["state"] == "sent" for one in phone.page.evaluate(PHOTOS)], phone) == [True]


PHOTOS = """() => new Promise((resolve) => {
  const request = indexedDB.open('plytide');
  request.onsuccess = () => {
    const all = request.result.transaction('photos').objectStore('photos').getAll();
    all.onsuccess = () => { request.result.close(); resolve(all.result.map((one) => ({ state: one.state, bytes: one.bytes.byteLength }))); };
  };
})"""


def until(look: Any, phone: Phone) -> list[Any]:
    """What `look` gives as soon as it gives something true."""
    for _ in range(600):
        found: list[Any] = look()
        if found and all(found):
            return found
        phone.page.wait_for_timeout(100)
    raise AssertionError("it never came")


def test_the_phone_itself_strips_a_photo(clinic: Clinic, phone: Phone, tmp_path: Path):
    joined(clinic, phone)
    data = photo_with_a_place(tmp_path / "limb.jpg").read_bytes()
    sent = phone.page.evaluate(
        """async (text) => {
          const { smallJpeg } = await import('/phone/photo.js');
          const taken = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
          const small = new Uint8Array(await smallJpeg(new Blob([taken])));
          let said = '';
          for (const byte of small) said += String.fromCharCode(byte);
          return btoa(said);
        }""",
        b64encode(data).decode(),
    )
    picture = Image.open(io.BytesIO(b64decode(sent)))
    assert (picture.size, dict(picture.getexif()), picture.info.get("comment")) == ((1200, 1600), {}, None)


def test_what_is_not_a_picture_is_said_to_be_none(clinic: Clinic, phone: Phone, tmp_path: Path):
    joined(clinic, phone)
    wrong = tmp_path / "limb.jpg"
    wrong.write_bytes(b"<svg/>")
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-6", "skin-found")
    phone.page.set_input_files("#photo", wrong)
    phone.says("This photo could not be used")


def test_own_socks_are_set_up_once_and_then_a_tap_each(clinic: Clinic, phone: Phone):
    person = joined(clinic, phone)
    phone.tap("nav-more", "go-drawer", "ply-5", "make-blend", "colour-4")
    phone.page.fill("#sock-name", "Red hiker")
    phone.tap("keep-sock", "drawer-done", "nav-home", "log-0", "none")
    phone.page.get_by_role("button", name="Red hiker").first.click()
    phone.tap("next", "fit-good", "comfort-8", "skin-fine")
    phone.says("Red hiker")
    phone.tap("save")
    phone.says("With your clinic")
    (said,) = clinic.checkins(clinic.limbs(person)[0])
    assert said["stack"] == [{"ply": 5, "make": "blend"}]


def test_the_reminder_file_is_one_a_calendar_reads(clinic: Clinic, phone: Phone):
    joined(clinic, phone)
    phone.tap("nav-more", "go-reminders", "time-0730", "time-2030")
    phone.page.fill("#own-time", "21:15")
    phone.page.dispatch_event("#own-time", "change")
    with phone.page.expect_download() as download:
        phone.tap("make-file")
    calendar = icalendar.Calendar.from_ical(download.value.path().read_bytes())
    events = list(calendar.walk("VEVENT"))
    assert [event["DTSTART"].dt.strftime("%H:%M") for event in events] == ["07:30", "20:30", "21:15"]
    first = events[0]
    assert first["DTSTART"].dt.tzinfo is None  # floating: half past seven wherever one is
    assert (first["RRULE"]["FREQ"], str(first["SUMMARY"])) == (["DAILY"], "Time for your log")
    assert len({str(event["UID"]) for event in events}) == 3
    assert len(list(calendar.walk("VALARM"))) == 3
    assert not list(calendar.errors)


def test_a_push_reminder_goes_to_the_clinic_with_times_zone_and_quiet_hours(clinic: Clinic, installed: Phone):
    phone = installed
    key = point()
    phone.context.add_init_script(
        """
        Notification.requestPermission = async () => 'granted';
        PushManager.prototype.subscribe = async function (wish) {
          window.wished = [wish.userVisibleOnly, wish.applicationServerKey.length];
          return { toJSON: () => ({ endpoint: 'https://push.example.org/abc', keys: { p256dh: 'KEY', auth: 'AAAAAAAAAAAAAAAAAAAAAA' } }) };
        };""".replace("KEY", key)
    )
    joined(clinic, phone)
    phone.works_offline()
    phone.tap("nav-more", "go-reminders", "time-1800")
    phone.page.click("#push > summary")
    phone.page.fill("#quiet-from", "21:00")
    phone.page.fill("#quiet-to", "07:00")
    phone.tap("push-start")
    phone.says("Reminders are on")
    assert phone.page.evaluate("window.wished") == [True, 65]
    phone.tap("push-pause")
    phone.says("Paused until")
    phone.tap("push-stop")
    expect(phone.page.locator("#push")).not_to_contain_text("Reminders are on")


RENEWED = """(key) => {
  const renewed = (what) => ({ toJSON: () => ({ endpoint: `https://push.example.org/${what}`, keys: { p256dh: key, auth: 'AAAAAAAAAAAAAAAAAAAAAA' } }) });
  PushManager.prototype.getSubscription = async () => null;
  PushManager.prototype.subscribe = async () => renewed('new');
  const event = new ExtendableEvent('pushsubscriptionchange');
  const all = [];
  event.waitUntil = (one) => all.push(one);
  self.dispatchEvent(event);
  return Promise.all(all).then(() => all.length);
}"""


def test_a_new_address_of_the_push_service_keeps_the_reminders_and_their_pause(clinic: Clinic, installed: Phone):
    phone = installed
    joined(clinic, phone)
    phone.works_offline()
    token = phone.page.evaluate(TOKEN)
    own = {"Authorization": f"Bearer {token}"}
    subscription = {"endpoint": "https://push.example.org/old", "keys": {"p256dh": point(), "auth": "A" * 22}}
    wish = {
        "subscription": subscription,
        "at": ["18:00"],
        "zone": "Europe/Vienna",
        "language": "de",
        "quiet_from": "21:00",
        "quiet_to": "07:00",
    }
    put = phone.page.request.put(f"{phone.url}/api/push", data=wish, headers=own)
    assert put.ok, put.text()
    assert phone.page.request.post(f"{phone.url}/api/push/pause", data={"hours": 72}, headers=own).ok
    before = phone.page.request.get(f"{phone.url}/api/push", headers=own).json()
    worker = phone.context.service_workers[0]
    assert worker.evaluate(RENEWED, point()) == 1
    after = phone.page.request.get(f"{phone.url}/api/push", headers=own).json()
    assert (before["endpoint"], after["endpoint"]) == ("https://push.example.org/old", "https://push.example.org/new")
    for kept in ("at", "zone", "language", "quiet_from", "quiet_to", "next_at"):
        assert after["reminders"][kept] == before["reminders"][kept], kept
    assert after["reminders"]["paused_until"] >= before["reminders"]["paused_until"]


TOKEN = """() => new Promise((done) => {
  const asked = indexedDB.open('plytide');
  asked.onsuccess = () => { const all = asked.result.transaction('accounts').objectStore('accounts').getAll(); all.onsuccess = () => { asked.result.close(); done(all.result[0].token); }; };
})"""


def point() -> str:
    """A key a push subscription may have."""
    found = (
        ec.derive_private_key(1, ec.SECP256R1())
        .public_key()
        .public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    )
    return base64.urlsafe_b64encode(found).decode().rstrip("=")


def test_a_browser_that_refuses_reminders_points_to_the_calendar(clinic: Clinic, installed: Phone):
    phone = installed
    phone.context.add_init_script("Notification.requestPermission = async () => 'denied';")
    joined(clinic, phone)
    phone.tap("nav-more", "go-reminders", "time-1800")
    phone.page.click("#push > summary")
    phone.tap("push-start")
    phone.says("This browser can’t remind you")


def test_a_new_socket_shows_the_clinics_plan_for_the_day(clinic: Clinic, phone: Phone):
    person = clinic.person("Anouk")
    limb = clinic.limbs(person)[0]
    schedule = [{"day": 1, "hours": 1}, {"day": 2, "hours": 2}]
    socket = {"fitted_on": str(date.today()), "purpose": "definitive", "wear_schedule": schedule}
    clinic.staff.call("POST", f"/api/clinic/limbs/{limb}/sockets", socket)
    phone.linked(clinic.code(person))
    phone.says("New socket, day 1")
    phone.says("Your plan for today: 1 hour.")


def test_agreement_reaches_the_clinic_with_the_words_shown(clinic: Clinic, phone: Phone):
    person = clinic.person("Anouk")
    phone.open()
    phone.join(clinic.code(person))
    (said,) = until(lambda: clinic.staff.call("GET", f"/api/clinic/people/{person}/consents")["consents"], phone)
    assert (said["words"], said["agreed"]) == ("consent-1-en", True)
    assert datetime.fromisoformat(said["said_at"])


def test_the_picture_of_the_limb_works_by_keyboard(clinic: Clinic, phone: Phone):
    joined(clinic, phone)
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-6", "skin-found")
    phone.page.focus("#zone-calf")
    phone.page.keyboard.press("Enter")
    phone.tap("finding-rash")
    expect(phone.page.locator("#zone-calf")).to_have_attribute("aria-label", "Calf, Rash")
    expect(phone.page.locator("#zone-calf")).to_have_attribute("aria-pressed", "true")


def test_comfort_is_chosen_by_arrows_and_one_key(clinic: Clinic, phone: Phone):
    joined(clinic, phone)
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good")
    phone.page.focus("#comfort-10")
    for _ in range(4):
        phone.page.keyboard.press("ArrowDown")
    expect(phone.page.locator("#comfort-6")).to_be_focused()
    expect(phone.page.locator("[role=radio][aria-checked=true]")).to_have_count(0)  # to look along is not to choose
    assert phone.page.locator("[role=radio][tabindex='0']").count() == 1
    phone.as_slow_as_a_hand()
    phone.page.keyboard.press("Enter")
    phone.page.wait_for_selector("#skin-fine")
    phone.tap("skin-fine", "save")
    phone.page.wait_for_selector("#done")
    assert [row["checkin"]["comfort"] for row in phone.held()] == [6]


def test_two_people_with_codes_of_their_own_share_a_phone(clinic: Clinic, phone: Phone):
    first = joined(clinic, phone)
    second = clinic.person("Dov")
    phone.tap("nav-more", "add-code")
    phone.join(clinic.code(second))
    for i, comfort in enumerate((3, 8)):
        phone.tap(f"who-{i}")
        phone.log(comfort=comfort)
        phone.says("With your clinic")
        phone.tap("done")
    said = [[one["comfort"] for one in clinic.checkins(clinic.limbs(person)[0])] for person in (first, second)]
    assert said == [[3], [8]]


def test_weight_is_typed_in_the_wearers_unit_and_kept_in_kg(clinic: Clinic, phone: Phone):
    person = joined(clinic, phone)  # the browser's language is American English
    phone.tap("log-0", "none", "sock-0", "next", "fit-good", "comfort-8", "skin-fine")
    phone.page.click("#rest > summary")
    phone.page.fill("#weight_kg", "180")
    phone.tap("save")
    phone.says("With your clinic")
    (said,) = clinic.checkins(clinic.limbs(person)[0])
    assert said["weight_kg"] == 81.65  # 180 × 0.45359237


def test_the_phone_may_be_asked_to_install_it(clinic: Clinic, installed: Phone):
    joined(clinic, installed)
    installed.works_offline()
    tools = installed.context.new_cdp_session(installed.page)
    errors = tools.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert [one["errorId"] for one in errors if one["errorId"] != "in-incognito"] == []


def test_the_language_chosen_stays(clinic: Clinic, phone: Phone):
    joined(clinic, phone)
    phone.tap("nav-more", "language-de")
    phone.says("Schriftgröße")
    phone.page.reload()
    phone.says("Heute eintragen")
    expect(phone.page.locator("html")).to_have_attribute("lang", "de")


def test_own_entries_are_saved_as_a_file_and_as_a_page_without_a_network(clinic: Clinic, phone: Phone):
    """One phone for two: only what is of the person whose diary is open is saved."""
    bram, cleo = clinic.person("Bram", born_on="2017-11-20"), clinic.person("Cleo", born_on="2016-02-03")
    phone.linked(clinic.code(bram, cleo, role="caregiver"))
    phone.offline()
    phone.log(comfort=6)
    phone.tap("done", "nav-more")
    phone.says("Save a copy of what this phone holds for Bram.")
    with phone.page.expect_download() as download:
        phone.tap("mine-file")
    held = json.loads(download.value.path().read_text())
    assert held["person"]["name"] == "Bram"
    assert [(one["comfort"], one["where"], one["counts"]) for one in held["limbs"][0]["entries"]] == [
        (6, "waiting", True)
    ]
    assert len(held["limbs"]) == 1 and "Cleo" not in json.dumps(held)
    with phone.page.expect_download() as download:
        phone.tap("mine-page")
    page = download.value.path().read_text()
    assert "Entries of Bram" in page and "6 of 10" in page and "Cleo" not in page
