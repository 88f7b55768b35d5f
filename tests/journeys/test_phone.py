"""The whole chain through a real phone: joined, logged without a network, with the clinic, on the worklist."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from playwright.sync_api import expect

from tests.journeys.phones import LEFT, Clinic, Phone

pytestmark = pytest.mark.journey


@pytest.fixture
def phone(new_phone: Callable[..., Phone]) -> Phone:
    """One that takes its time over a screen just shown, as in a hand."""
    return new_phone(hasty=False)


def test_a_day_logged_without_a_network_reaches_the_worklist(clinic: Clinic, installed: Phone):
    phone = installed
    anouk = clinic.person("Anouk Ilsevoort")
    phone.open()
    phone.join(clinic.code(anouk))
    phone.works_offline()

    phone.offline()
    phone.page.reload()
    phone.page.wait_for_selector("#log-0")
    phone.log(comfort=7)
    phone.says("Saved on this phone")
    assert [row["state"] for row in phone.held()] == ["waiting"]

    phone.offline(False)
    phone.says("With your clinic")
    (kept,) = clinic.checkins(clinic.limbs(anouk)[0])
    assert (kept["comfort"], kept["stack"]) == (7, [{"ply": 3, "make": "single"}])
    listed = clinic.staff.call("GET", "/api/clinic/worklist?show=all&q=Ilsevoort")["limbs"]
    assert [(row["person"]["name"], row["last_checkin"]) for row in listed] == [("Anouk Ilsevoort", kept["date"])]


def test_a_code_in_the_address_is_used_and_leaves_the_address(clinic: Clinic, phone: Phone):
    code = clinic.code(clinic.person("Anouk"))
    phone.open(f"/phone/#enrol={code}")
    assert phone.page.url.endswith("/phone/")
    expect(phone.page.locator("#code")).to_have_value(code)
    phone.tap("join", "agree")
    phone.says("Log today")


def test_a_wrong_code_says_what_to_do(clinic: Clinic, phone: Phone):
    phone.open()
    phone.page.fill("#code", "ABCD-EFGH-JK")
    phone.tap("join")
    phone.says("This code did not work")
    expect(phone.page.locator("#code")).to_have_value("ABCD-EFGH-JK")


def test_who_does_not_agree_is_not_joined(clinic: Clinic, phone: Phone):
    phone.open()
    phone.page.fill("#code", clinic.code(clinic.person("Anouk")))
    phone.tap("join", "decline")
    phone.page.reload()
    expect(phone.page.locator("#code")).to_be_visible()


def test_a_blister_gets_the_stop_advice_at_once_without_a_network(clinic: Clinic, installed: Phone):
    phone = installed
    phone.open()
    phone.join(clinic.code(clinic.person("Anouk")))
    phone.works_offline()
    phone.offline()
    phone.page.reload()
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-6", "skin-found", "place-limb_end", "finding-blister")
    expect(phone.page.get_by_role("alert")).to_contain_text("Do not wear the socket now")
    phone.tap("sign-fast_spreading_redness")
    expect(phone.page.get_by_role("alert")).to_contain_text("emergency number")
    expect(phone.page.locator("a.urgent")).to_have_attribute("href", "tel:112")


def test_an_entry_corrected_and_one_taken_back(clinic: Clinic, phone: Phone):
    anouk = clinic.person("Anouk")
    phone.open()
    phone.join(clinic.code(anouk))
    phone.log(comfort=3)
    phone.says("With your clinic")
    phone.tap("done", "nav-days")
    phone.page.locator(".entry").click()
    phone.tap("correct", "change-comfort", "comfort-9", "save")
    phone.says("With your clinic")
    first, second = sorted(clinic.checkins(clinic.limbs(anouk)[0]), key=lambda one: one["seq"])
    assert (second["replaces"], second["comfort"], second["stack"]) == (first["id"], 9, first["stack"])

    phone.tap("done", "nav-days")
    phone.page.locator(".entry").click()
    phone.tap("withdraw", "withdraw-yes")
    phone.says("Nothing here yet")


def test_the_socks_of_yesterday_are_one_tap_and_marked_so(clinic: Clinic, phone: Phone):
    anouk = clinic.person("Anouk")
    phone.linked(clinic.code(anouk))
    phone.log()
    phone.tap("done")
    phone.log()
    phone.says("With your clinic")
    said = sorted(clinic.checkins(clinic.limbs(anouk)[0]), key=lambda one: one["seq"])
    assert [one["prefilled"] for one in said] == [False, True]


def test_a_caregiver_writes_for_two_children_on_one_phone(clinic: Clinic, phone: Phone):
    children = [clinic.person(name, born_on="2017-11-20") for name in ("Bram", "Lotte")]
    phone.open()
    phone.page.fill("#label", "Carla")
    phone.join(clinic.code(*children, role="caregiver"))
    for i, comfort in enumerate((4, 9)):
        phone.tap(f"who-{i}")
        phone.log(comfort=comfort)
        phone.says("With your clinic")
        phone.tap("done")
    said = [clinic.checkins(clinic.limbs(child)[0]) for child in children]
    assert [[one["comfort"] for one in log] for log in said] == [[4], [9]]
    writer = said[0][0]["written_by"]
    assert (writer["role"], writer["label"]) == ("caregiver", "Carla")


def test_two_limbs_are_eleven_taps_and_stand_side_by_side_when_done(clinic: Clinic, phone: Phone):
    tove = clinic.person("Tove", limbs=(LEFT, {**LEFT, "side": "right"}))
    left, right = clinic.limbs(tove)
    phone.linked(clinic.code(tove))
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-6", "skin-fine", "save", "other", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-6", "skin-fine", "save", "done")
    expect(phone.page.locator(".beside-limbs .done.yes")).to_have_count(2)
    phone.page.clock.set_fixed_time(datetime.now() + timedelta(days=1))
    phone.page.reload()
    taps = ["log-0", "none-same", "fit-good", "comfort-8", "skin-fine", "save-next"]
    taps += ["none-same", "fit-good", "comfort-7", "skin-fine", "save"]
    assert len(taps) == 11
    phone.tap(*taps)
    phone.page.wait_for_selector("#done")
    assert sorted((one["limb_id"], one["checkin"]["comfort"]) for one in phone.held()) == sorted(
        [(left, 6), (right, 6), (left, 8), (right, 7)]
    )
    phone.tap("done")
    expect(phone.page.locator(".foot .primary")).to_have_count(0)
    expect(phone.page.locator("#log-0")).to_have_text("Log again")


def test_a_day_that_was_written_gives_its_line_back_and_the_first_save_offers_a_reminder(clinic: Clinic, phone: Phone):
    phone.linked(clinic.code(clinic.person("Anouk")))
    phone.says("Your first line starts today")
    phone.log(comfort=7)
    expect(phone.page.locator("#line-today")).to_have_count(1)
    phone.says("The first day is written down.")
    phone.tap("remind-offer", "time-1800", f"week-{datetime.now().isoweekday() % 7}", "back")
    phone.says("All written down")
    phone.tap("done")
    phone.says("Done for today")
    phone.says("1 of 7 days written down.")
    phone.tap("log-0", "none-same", "fit-good", "comfort-9", "skin-fine", "save")
    phone.page.wait_for_selector("#done")
    expect(phone.page.locator("#remind-offer")).to_have_count(0)


def test_a_refused_entry_stays_in_sight_with_its_reason_and_can_be_mended(clinic: Clinic, phone: Phone):
    anouk = clinic.person("Anouk")
    phone.linked(clinic.code(anouk))
    phone.page.clock.set_fixed_time(datetime.now() + timedelta(days=5))
    phone.page.reload()
    phone.log(comfort=5)
    phone.says("Needs a fix")
    phone.tap("done", "nav-days")
    phone.page.locator(".entry").click()
    phone.says("This day has not come yet")
    phone.page.clock.set_fixed_time(datetime.now())
    phone.tap("correct")
    phone.tap("date-0", "save")
    phone.says("With your clinic")
    assert [one["comfort"] for one in clinic.checkins(clinic.limbs(anouk)[0])] == [5]
    # Mended under its own id: one entry, not two.
    assert [row["state"] for row in phone.held()] == ["kept"]
