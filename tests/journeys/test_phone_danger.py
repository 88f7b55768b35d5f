"""Danger on the phone: asked first, hidden by nothing, in sight at any text size, and there until it is over."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.http.test_photos import jpeg
from tests.journeys.phones import LEFT, Clinic, Phone
from tests.journeys.test_phone_looks import TWICE

pytestmark = pytest.mark.journey

SMALL = {"width": 320, "height": 640}
# Wholly on the screen, and nothing lies over it.
IN_SIGHT = """(id) => {
  const one = document.getElementById(id);
  if (!one) return 'missing';
  const box = one.getBoundingClientRect();
  const inside = box.top >= 0 && box.left >= 0 && box.bottom <= innerHeight + 1 && box.right <= innerWidth + 1;
  const at = document.elementFromPoint((box.left + box.right) / 2, (box.top + box.bottom) / 2);
  return inside && (one.tagName !== 'BUTTON' || box.height >= 48) && one.contains(at) ? 'in sight' : JSON.stringify(box);
}"""
NUMBERS = "() => [...document.querySelectorAll('a[href^=\"tel:\"]')].map((one) => one.getAttribute('href'))"


def joined(clinic: Clinic, phone: Phone, **about: Any) -> str:
    person = clinic.person("Anouk", **about)
    phone.linked(clinic.code(person))
    return clinic.limbs(person)[0]


def socks_to_skin(phone: Phone, comfort: int = 6) -> None:
    phone.tap("sock-0")  # the one of the fitting
    phone.as_slow_as_a_hand()  # with large letters "Next" may lie where the sock was
    phone.tap("next", "fit-good", f"comfort-{comfort}")


def in_sight(phone: Phone, *ids: str) -> None:
    phone.page.wait_for_selector("html:not([data-settling])")
    assert {one: phone.page.evaluate(IN_SIGHT, one) for one in ids} == dict.fromkeys(ids, "in sight")


def one_key_a_number(phone: Phone) -> list[str]:
    found: list[str] = phone.page.evaluate(NUMBERS)
    assert len(set(found)) == len(found)
    return found


def test_the_signs_of_danger_come_first_and_a_good_day_is_six_taps(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    phone.log()
    phone.tap("done")
    taps = ("log-0", "none-same", "fit-good", "comfort-8", "skin-fine", "save")
    phone.tap(taps[0])
    phone.says("Any of these now?")
    phone.tap(*taps[1:])
    phone.says("With your clinic")
    assert len(taps) <= 6
    first, second = sorted(clinic.checkins(limb), key=lambda one: one["seq"])
    assert [(one["signs_checked"], one["signs"]) for one in (first, second)] == [(True, []), (True, [])]
    assert second["prefilled"] and second["stack"] == first["stack"]


@pytest.mark.parametrize("skin", ["skin-fine", "skin-not"])
def test_neither_all_fine_nor_not_looked_hides_a_sign_of_danger(clinic: Clinic, phone: Phone, skin: str):
    limb = joined(clinic, phone)
    phone.tap("log-0", "sign-confusion")
    expect(phone.page.get_by_role("alert")).to_contain_text("Get help now")
    in_sight(phone, "advice-title", "alarm", "next")  # and not above the screen, where the list was tapped
    phone.tap("next")
    socks_to_skin(phone)
    phone.tap(skin)
    expect(phone.page.locator(".answers")).to_contain_text("Confused, or hard to wake")
    phone.tap("save")
    phone.says("With your clinic")
    (kept,) = clinic.checkins(limb)
    assert kept["signs"] == ["confusion"]


def test_something_found_and_not_said_what_is_kept_as_a_finding(clinic: Clinic, phone: Phone, tmp_path: Path):
    limb = joined(clinic, phone)
    picture = tmp_path / "skin.jpg"
    picture.write_bytes(jpeg())
    phone.tap("log-0", "none")
    socks_to_skin(phone)
    phone.tap("skin-found")
    phone.page.set_input_files("#photo", str(picture))
    expect(phone.page.locator(".photos img")).to_be_visible()
    expect(phone.page.locator("#unsaid")).to_contain_text("something else")
    phone.tap("next")
    expect(phone.page.locator(".answers")).to_contain_text("Something else (Not said where)")
    phone.tap("save")
    phone.says("With your clinic")
    (kept,) = clinic.checkins(limb)
    assert kept["skin"] == [{"place": "not_said", "finding": "other", "redness_minutes": None}]
    assert (kept["skin_checked"], len(kept["photos"])) == (True, 1)


def test_a_place_without_a_finding_is_kept_and_a_slip_can_be_closed_again(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    phone.tap("log-0", "none")
    socks_to_skin(phone)
    phone.tap("skin-found", "place-calf", "place-limb_end")
    expect(phone.page.locator("#unsaid")).to_contain_text("End of the limb")
    phone.tap("next", "save")
    phone.says("With your clinic")
    (kept,) = clinic.checkins(limb)
    assert kept["skin"] == [{"place": "limb_end", "finding": "other", "redness_minutes": None}]


def test_redness_is_asked_how_long_it_lasted_at_every_place(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    phone.tap("log-0", "none")
    socks_to_skin(phone)
    phone.tap("skin-found", "place-calf", "finding-redness", "place-brim", "finding-redness", "minutes-20", "next")
    expect(phone.page.get_by_role("alert")).to_contain_text("how long the red lasted")
    in_sight(phone, "minutes-brim-unknown")
    phone.tap("minutes-brim-unknown", "next", "save")
    phone.says("With your clinic")
    (kept,) = clinic.checkins(limb)
    assert [(one["place"], one["redness_minutes"]) for one in kept["skin"]] == [("calf", 20), ("brim", None)]


def blister(phone: Phone) -> None:
    phone.tap("log-0", "none")
    socks_to_skin(phone)
    phone.tap("skin-found", "place-limb_end", "finding-blister", "next")


def on_day(phone: Phone, back: int) -> None:
    """The phone's own clock, some days ago."""
    phone.page.clock.set_fixed_time(datetime.now() - timedelta(days=back))
    phone.page.reload()
    phone.page.wait_for_selector("#log-0")


def test_advice_stays_over_reloads_and_days_until_two_later_clear_looks(clinic: Clinic, phone: Phone):
    joined(clinic, phone)
    card = phone.page.locator("section.advice")
    on_day(phone, 4)
    blister(phone)
    phone.tap("save", "done")
    expect(card).to_contain_text("Do not wear the socket now")
    phone.page.reload()
    expect(card).to_contain_text("Written down: Today.")
    on_day(phone, 3)
    expect(card).to_contain_text("Written down: Yesterday.")
    phone.log()  # all fine, none of the signs: the first clear look
    phone.tap("done")
    expect(card).to_be_visible()
    on_day(phone, 2)
    expect(card).to_be_visible()
    phone.tap("log-0", "none-same", "fit-good", "comfort-8", "skin-not", "save", "done")  # not looked: no clear day
    expect(card).to_be_visible()
    on_day(phone, 1)
    phone.log()
    phone.tap("done")
    expect(card).to_have_count(0)


def test_what_was_begun_and_says_danger_shows_it_on_the_first_page(clinic: Clinic, phone: Phone):
    joined(clinic, phone)
    phone.tap("log-0", "sign-bleeding_not_stopping", "back")
    expect(phone.page.locator("section.advice")).to_contain_text("It is not saved yet")
    in_sight(phone, "alarm", "log-0")
    phone.keeps("bleeding_not_stopping")
    phone.page.reload()
    expect(phone.page.locator("section.advice")).to_contain_text("Press hard on the spot")


@pytest.mark.parametrize("size", ["largest", "200 %"])
def test_the_alarm_and_the_key_to_log_are_in_sight_at_the_largest_letters(
    clinic: Clinic, new_phone: Callable[..., Phone], size: str
):
    phone = new_phone(viewport=SMALL)
    if size == "200 %":
        phone.context.add_init_script(TWICE)
    joined(clinic, phone)
    if size == "largest":
        phone.tap("nav-more", "size-largest", "nav-home")
    phone.tap("log-0", "none")
    socks_to_skin(phone)
    phone.tap("skin-found", "place-limb_end", "finding-blister")
    in_sight(phone, "alarm", "next")  # far below the card, where the finding was tapped
    phone.page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
    in_sight(phone, "alarm", "next")
    phone.tap("alarm")
    in_sight(phone, "advice-title")
    phone.tap("next")
    in_sight(phone, "alarm", "save")
    phone.tap("save")
    phone.page.wait_for_selector("#done")
    in_sight(phone, "alarm", "done")
    phone.tap("done")
    in_sight(phone, "alarm", "log-0")
    phone.page.evaluate("scrollTo(0, document.documentElement.scrollHeight / 2)")
    in_sight(phone, "alarm", "log-0")
    phone.tap("alarm")
    phone.page.wait_for_function("() => document.querySelector('section.advice h2').getBoundingClientRect().top >= 0")


def test_every_sign_of_danger_can_be_reached_at_the_largest_letters(clinic: Clinic, new_phone: Callable[..., Phone]):
    phone = new_phone(viewport=SMALL)
    joined(clinic, phone)
    phone.tap("nav-more", "size-largest", "nav-home", "log-0")
    phone.page.wait_for_selector("html:not([data-settling])")
    keys = phone.page.locator(".danger .key")
    assert keys.count() >= 13
    for key in keys.all():
        key.evaluate("(one) => one.scrollIntoView({ block: 'center' })")
        in_sight(phone, str(key.get_attribute("id")), "none")


@pytest.fixture
def reachable(clinic: Clinic) -> Iterator[Callable[..., None]]:
    """Says how the clinic of these journeys can be reached; afterwards nothing is said, as before."""

    def say(**fields: Any) -> None:
        clinic.staff.call("PATCH", "/api/clinic/settings", fields)

    yield say
    say(phone=None, hours=[], zone=None, closed_on=[], out_of_hours_phone=None)


def closed_until(ahead: int) -> dict[str, Any]:
    opens = date.today() + timedelta(days=ahead)
    return {"hours": [{"days": [opens.isoweekday()], "from": "08:00", "to": "17:00"}], "zone": "UTC"}


def test_a_closed_clinic_says_when_it_opens_and_whom_to_call_also_without_a_network(
    clinic: Clinic, installed: Phone, reachable: Callable[..., None]
):
    phone = installed
    reachable(phone="555 0100", out_of_hours_phone="555 0199", **closed_until(3))
    joined(clinic, phone)
    phone.works_offline()
    phone.page.reload()
    phone.page.wait_for_selector("#log-0")
    phone.offline()
    phone.page.reload()
    blister(phone)
    card = phone.page.locator("section.advice")
    expect(card).to_contain_text(f"It opens {date.today() + timedelta(days=3):%A}")
    assert one_key_a_number(phone) == ["tel:5550199"]
    phone.tap("save", "done")
    assert one_key_a_number(phone) == ["tel:5550199"]
    phone.tap("help")
    assert {"tel:112", "tel:5550199"} <= set(one_key_a_number(phone))


def test_a_closed_clinic_without_another_number_says_what_to_do_if_it_gets_worse(
    clinic: Clinic, phone: Phone, reachable: Callable[..., None]
):
    reachable(phone="555 0100", **closed_until(3))
    joined(clinic, phone)
    phone.page.reload()
    phone.page.wait_for_selector("#log-0")
    blister(phone)
    expect(phone.page.locator("section.advice")).to_contain_text("If it gets worse, do not wait")
    assert one_key_a_number(phone) == ["tel:112"]


def test_the_heart_team_has_a_key_of_its_own(clinic: Clinic, phone: Phone, reachable: Callable[..., None]):
    reachable(phone="555 0100", hours=[{"days": [1, 2, 3, 4, 5, 6, 7], "from": "00:00", "to": "23:59"}], zone="UTC")
    joined(clinic, phone, tags=["heart_failure"], heart_team_phone="555 0144")
    on_day(phone, 1)
    for back, weight in ((1, "80"), (0, "83")):
        on_day(phone, back)
        phone.tap("log-0", "none")
        socks_to_skin(phone)
        phone.tap("skin-fine")
        phone.page.click("#rest > summary")
        phone.tap("unit-kg")
        phone.page.fill("#weight_kg", weight)
        phone.tap("save", "done")
    expect(phone.page.locator("section.advice h2")).to_contain_text("Call your heart team")
    assert one_key_a_number(phone) == ["tel:5550144"]


def signal_of(clinic: Clinic, limb: str) -> str:
    listed = clinic.staff.call("GET", f"/api/clinic/limbs/{limb}")["signals"]
    return next(one["id"] for one in listed if one["rule"] == "stop-wear-skin")


def test_the_clinics_answer_stands_under_the_advice_until_it_closes_it(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    blister(phone)
    phone.tap("save")
    phone.says("With your clinic")
    phone.tap("done")
    clinic.staff.call("GET", "/api/clinic/worklist?show=all")  # a round is made before a list is shown
    signal = signal_of(clinic, limb)
    act = f"/api/clinic/signals/{signal}"
    clinic.staff.call("POST", f"{act}/acknowledge", {"answer": "Come on Friday at ten."})
    phone.page.reload()
    card = phone.page.locator("section.advice")
    expect(card).to_contain_text("Read by your clinic: Today. Come on Friday at ten.")
    expect(card).not_to_contain_text("No one may read this")
    clinic.staff.call("POST", f"{act}/close", {"outcome": "healed", "answer": "It has healed. Wear it again."})
    phone.page.reload()
    expect(card).to_have_count(0)
    phone.says("It has healed. Wear it again.")


def test_an_alarm_of_one_child_is_marked_while_the_other_is_shown(clinic: Clinic, phone: Phone):
    children = [clinic.person(name, limbs=(LEFT,), born_on="2017-11-20") for name in ("Bram", "Lotte")]
    phone.linked(clinic.code(*children, role="caregiver"))
    blister(phone)
    phone.tap("save", "done")
    expect(phone.page.locator("section.advice")).to_be_visible()
    phone.tap("who-1")
    expect(phone.page.locator("section.advice")).to_have_count(0)
    expect(phone.page.locator("#who-0 .marked")).to_be_visible()
    expect(phone.page.locator("#who-1 .marked")).to_have_count(0)


HIDE = """(is) => {
  Object.defineProperty(document, 'visibilityState', { value: is, configurable: true });
  document.dispatchEvent(new Event('visibilitychange'));
}"""


# How far the words of a pressed key begin behind its tick, in px: the least of all of them.
BEHIND_THE_TICK = """() => Math.min(...[...document.querySelectorAll('.danger [aria-pressed=true]')].map((key) => {
  const words = document.createRange();
  words.selectNodeContents(key);
  const [box, text, tick] = [key.getBoundingClientRect(), words.getBoundingClientRect(), getComputedStyle(key, '::before')];
  const rtl = document.documentElement.dir === 'rtl';
  const end = parseFloat(tick.insetInlineStart) + parseFloat(tick.inlineSize);
  return (rtl ? box.right - text.right : text.left - box.left) - end;
}))"""


@pytest.mark.parametrize("language", ["en", "ar"])
def test_no_tick_lies_on_a_letter_of_the_danger_list(clinic: Clinic, phone: Phone, language: str):
    joined(clinic, phone)
    phone.page.set_viewport_size({"width": 320, "height": 640})
    if language == "ar":
        phone.page.evaluate(IN_ARABIC)
        phone.page.reload()
        phone.page.wait_for_selector("html[data-ready=yes]")
    phone.tap("log-0")
    for sign in ("confusion", "cold_pale_limb", "swollen_warm_painful", "rash_spreads_or_blisters", "severe_pain"):
        phone.tap(f"sign-{sign}")
        phone.as_slow_as_a_hand()
    assert phone.page.evaluate(BEHIND_THE_TICK) >= 0


IN_ARABIC = """() => new Promise((done) => {
  const open = indexedDB.open('plytide');
  open.onsuccess = () => {
    const work = open.result.transaction('small', 'readwrite');
    const small = work.objectStore('small');
    const known = small.get('settings');
    known.onsuccess = () => small.put({ ...(known.result ?? {}), language: 'ar', size: 'largest' }, 'settings');
    work.oncomplete = () => { open.result.close(); done(); };
  };
})"""


def signals_of(clinic: Clinic, limb: str) -> list[dict[str, Any]]:
    rows = clinic.staff.call("GET", "/api/clinic/worklist?limit=200")["limbs"]
    return [one for row in rows if row["limb_id"] == limb for one in row["signals"] if one["rule"]]


def test_a_danger_that_was_tapped_and_never_saved_reaches_the_clinic_once(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    phone.tap("log-0", "sign-confusion")
    phone.tap("sign-confusion")  # thought again: nothing is sent of it
    phone.as_slow_as_a_hand()
    phone.page.evaluate(HIDE, "hidden")
    phone.page.evaluate(HIDE, "visible")
    phone.tap("sign-cold_pale_limb")
    phone.says("If you stop here")
    phone.offline()
    phone.page.evaluate(HIDE, "hidden")
    phone.page.evaluate(HIDE, "visible")
    phone.says("as soon as there is a network")
    assert signals_of(clinic, limb) == []
    phone.offline(False)
    phone.page.evaluate(HIDE, "hidden")
    phone.page.evaluate(HIDE, "visible")
    phone.page.reload()
    phone.page.wait_for_selector("html[data-ready=yes]")
    phone.says("We sent your clinic what you tapped")
    (told,) = signals_of(clinic, limb)
    assert (told["rule"], told["level"]) == ("emergency-cold-limb", "urgent") and "not saved" in told["because"]
    assert clinic.checkins(limb) == []
    phone.tap("log-0", "next")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-6", "skin-fine", "save")
    expect(phone.page.locator(".state.kept").first).to_be_visible()
    (entry,) = clinic.checkins(limb)
    (told,) = signals_of(clinic, limb)
    assert (told["evidence"], "not saved" in told["because"]) == ([entry["id"]], False)
