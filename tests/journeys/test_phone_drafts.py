"""What was begun and not saved, what the clinic can't take, and what nobody will fetch: each is said, with a way on."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.journeys.phones import Clinic, Phone

pytestmark = pytest.mark.journey


def joined(clinic: Clinic, phone: Phone) -> str:
    person = clinic.person("Anouk")
    phone.linked(clinic.code(person))
    return clinic.limbs(person)[0]


def on_day(phone: Phone, ago: int, hour: int = 21) -> None:
    """The phone's clock, so many days ago; then the app as it is opened on that day."""
    day = datetime.now().replace(hour=hour, minute=10) - timedelta(days=ago)
    phone.page.clock.set_fixed_time(day)
    phone.page.reload()
    phone.page.wait_for_selector("html[data-ready=yes]")


def begun_yesterday(clinic: Clinic, phone: Phone) -> str:
    limb = joined(clinic, phone)
    on_day(phone, 1)
    phone.tap("log-0", "none")
    phone.add_sock(5)
    phone.tap("next", "fit-tight", "next")
    phone.keeps('"step":"comfort"')
    on_day(phone, 0, 7)
    return limb


def entries(clinic: Clinic, limb: str) -> list[tuple[str, int]]:
    return sorted((one["date"], one["comfort"]) for one in clinic.checkins(limb))


def today() -> str:
    return str(date.today())


def yesterday() -> str:
    return str(date.today() - timedelta(days=1))


def test_a_draft_of_yesterday_says_so_and_today_is_one_tap_away(clinic: Clinic, phone: Phone):
    limb = begun_yesterday(clinic, phone)
    phone.says("You began the entry of: Yesterday")
    phone.says("Begun: Yesterday")
    expect(phone.page.locator("#log-0")).to_have_text("Log today")
    phone.log(comfort=9, ply=1)
    phone.says("With your clinic")
    phone.tap("done")
    phone.says("You began the entry of: Yesterday")
    phone.page.get_by_role("button", name="Go on: Yesterday").click()
    phone.says("This is for another day, not today: Yesterday")
    phone.tap("comfort-4", "skin-fine")
    phone.says("5‑ply")
    phone.tap("save")
    phone.says("With your clinic")
    said = "[...document.querySelectorAll('main > :not(svg)')].map((one) => one.textContent).join(' ')"
    assert "Today" not in phone.page.evaluate(said)  # the picture names today, whichever day was written
    assert entries(clinic, limb) == [(yesterday(), 4), (today(), 9)]
    phone.tap("done")
    expect(phone.page.locator(".begun")).to_have_count(0)


def test_a_draft_can_be_thrown_away_after_a_question(clinic: Clinic, phone: Phone):
    begun_yesterday(clinic, phone)
    throw = phone.page.get_by_role("button", name="Throw away: Yesterday")
    throw.click()
    phone.says("Throw away what you began?")
    phone.as_slow_as_a_hand()
    phone.tap("throw-no")
    phone.as_slow_as_a_hand()
    throw.click()
    phone.as_slow_as_a_hand()
    phone.tap("throw-yes")
    expect(phone.page.locator(".begun")).to_have_count(0)
    phone.page.reload()
    phone.says("Log today")
    expect(phone.page.locator("body")).not_to_contain_text("You began")


@pytest.mark.parametrize(("key", "day"), [("day-then", yesterday), ("day-now", today)])
def test_a_form_left_open_over_night_asks_which_day_it_is_for(
    clinic: Clinic, phone: Phone, key: str, day: Callable[[], str]
):
    limb = joined(clinic, phone)
    on_day(phone, 1)
    phone.tap("log-0", "none")
    phone.add_sock(5)
    phone.tap("next", "fit-good", "comfort-6", "skin-fine")
    phone.page.wait_for_selector("#save")
    phone.page.clock.set_fixed_time(datetime.now().replace(hour=7))
    phone.tap("save")
    phone.says("Which day is this for?")
    assert phone.held() == []
    phone.tap(key, "save")
    phone.says("With your clinic")
    assert entries(clinic, limb) == [(day(), 6)]


def test_a_half_made_correction_survives_a_reload(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    phone.log(comfort=3)
    phone.says("With your clinic")
    phone.tap("done", "nav-days")
    phone.page.locator(".entry").click()
    phone.tap("correct")
    phone.page.click("#rest > summary")
    phone.page.fill("#note", "walked to the market")
    phone.keeps("walked to the market")
    phone.page.reload()
    phone.says("You began to change the entry of: Today")
    expect(phone.page.locator("#log-0")).to_have_text("Log again")
    phone.page.get_by_role("button", name="Go on: Today").click()
    expect(phone.page.locator(".answers")).to_contain_text("walked to the market")
    phone.tap("change-comfort", "comfort-9", "save")
    phone.says("With your clinic")
    assert entries(clinic, limb) == [(today(), 3), (today(), 9)]
    phone.tap("done")
    expect(phone.page.locator(".begun")).to_have_count(0)


def test_thirty_hours_are_told_at_their_field_before_anything_is_saved(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    phone.tap("log-0", "none", "sock-0", "next", "fit-good", "comfort-8", "skin-fine")
    phone.page.click("#rest > summary")
    for typed in ("30", "about 8"):
        phone.page.fill("#hours_worn", typed)
        phone.tap("save")
        expect(phone.page.locator("#hours_worn-fault")).to_have_text("This must be a number from 0 to 24 hours.")
        expect(phone.page.locator("#hours_worn")).to_be_focused()
        expect(phone.page.locator("#hours_worn")).to_have_value(typed)
        assert phone.held() == []
        phone.as_slow_as_a_hand()
    phone.page.fill("#hours_worn", "7,5")
    phone.tap("save")
    phone.says("With your clinic")
    assert [one["hours_worn"] for one in clinic.checkins(limb)] == [7.5]


# An entry as an older version of the app would have kept it: with what it let through.
OLD_ENTRY = """(checkin) => new Promise((done) => {
  const request = indexedDB.open('plytide');
  request.onsuccess = () => {
    const work = request.result.transaction(['accounts', 'checkins'], 'readwrite');
    work.objectStore('accounts').getAll().onsuccess = (event) => {
      const account = event.target.result[0].device_id;
      work.objectStore('checkins').put({ id: checkin.id, limb_id: checkin.limb_id, account, state: 'waiting', checkin });
    };
    work.oncomplete = () => { request.result.close(); done(); };
  };
})"""


def old_entry(limb: str, **fields: Any) -> dict[str, Any]:
    stack = [{"ply": 3, "make": "single"}]
    return {
        "id": "019a0000-0000-7000-8000-000000000077",
        "limb_id": limb,
        "date": yesterday(),
        "stack": stack,
        **fields,
    }


def test_a_refused_entry_stands_on_the_first_page_with_a_key_to_its_field(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    phone.page.evaluate(OLD_ENTRY, old_entry(limb, comfort=5, hours_worn=30))
    phone.page.reload()
    phone.says("Your clinic could not take this entry: Yesterday")
    phone.says("Hours worn: This must be a number from 0 to 24 hours.")
    phone.page.get_by_role("button", name="Fix: Hours worn").click()
    expect(phone.page.locator("#hours_worn")).to_be_focused()
    phone.page.fill("#hours_worn", "13")
    phone.tap("save")
    phone.says("With your clinic")
    assert [(one["date"], one["hours_worn"]) for one in clinic.checkins(limb)] == [(yesterday(), 13)]
    phone.tap("done")
    expect(phone.page.locator("body")).not_to_contain_text("could not take")


def test_the_saved_screen_of_a_refused_entry_says_what_is_wrong_and_leads_there(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    phone.page.clock.set_fixed_time(datetime.now() + timedelta(days=5))
    phone.page.reload()
    phone.log(comfort=5)
    phone.says("This needs a fix")
    phone.says("Day: This day has not come yet")
    expect(phone.page.locator("body")).not_to_contain_text("All written down")
    expect(phone.page.locator("body")).not_to_contain_text("on its way")
    phone.page.clock.set_fixed_time(datetime.now())
    phone.page.get_by_role("button", name="Fix: Day").click()
    expect(phone.page.locator("#date")).to_be_focused()
    phone.tap("date-0", "save")
    phone.says("With your clinic")
    assert entries(clinic, limb) == [(today(), 5)]


def test_a_phone_no_longer_linked_never_says_on_its_way(clinic: Clinic, phone: Phone):
    person = clinic.person("Anouk")
    phone.linked(clinic.code(person))
    (device,) = clinic.staff.call("GET", f"/api/clinic/people/{person}/devices")["devices"]
    clinic.staff.call("DELETE", f"/api/clinic/devices/{device['id']}")
    phone.log(comfort=4)
    phone.says("Your clinic can’t get it: this phone is no longer linked. Ask for a new code.")
    for words in ("All written down", "on its way", "It will be sent"):
        expect(phone.page.locator("body")).not_to_contain_text(words)
    phone.tap("done")
    phone.says("Your clinic can’t get 1 entry: this phone is no longer linked.")
    phone.log(comfort=6)
    phone.tap("new-code")
    phone.join(clinic.code(person))
    phone.says("All your entries are with your clinic")
    assert entries(clinic, clinic.limbs(person)[0]) == [(today(), 4), (today(), 6)]
