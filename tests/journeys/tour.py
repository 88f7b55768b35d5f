"""Every screen of the phone app, one after the other, for checks that look at all of them."""

from __future__ import annotations

from collections.abc import Iterator

from tests.journeys.phones import Phone


def tour(phone: Phone, code: str) -> Iterator[str]:
    """Goes through the app as a wearer would; yields the name of each screen once it is shown."""
    page = phone.page
    phone.open()
    yield "enrol"
    page.fill("#code", "ABCD-EFGH-JK")
    phone.tap("join")
    page.wait_for_selector("#code-error:not(:empty)")
    yield "enrol-error"
    page.fill("#code", code)
    phone.as_slow_as_a_hand()
    phone.tap("join")
    page.wait_for_selector("#agree")
    yield "consent"
    phone.tap("agree")
    page.wait_for_selector("#log-0")
    yield "home-empty"
    phone.tap("log-0")
    page.wait_for_selector("#none")
    yield "danger"
    phone.tap("sign-severe_pain")
    yield "danger-stop"
    phone.as_slow_as_a_hand()
    phone.tap("sign-severe_pain", "none")
    yield "socks-first"
    phone.tap("next")
    page.wait_for_selector("[role=alert]")
    yield "socks-error"
    phone.add_sock(3)
    phone.tap("sock-0")
    yield "socks"
    phone.tap("next", "fit-loose", "sign-sinks_to_bottom")
    yield "fit"
    phone.tap("fit-good")
    page.wait_for_selector("#comfort-0")
    yield "comfort"
    phone.tap("comfort-8")
    page.wait_for_selector("#skin-fine")
    yield "skin"
    phone.tap("skin-found", "place-limb_end", "finding-redness", "minutes-60", "finding-blister")
    yield "skin-found"
    phone.tap("sign-fast_spreading_redness")
    yield "skin-emergency"
    phone.tap("next")
    page.click("#rest > summary")
    page.click("#when > summary")
    yield "review"
    page.fill("#note", "Hot day, walked to the market")
    phone.tap("save")
    page.wait_for_selector("#done")
    yield "saved"
    phone.says("With your clinic")
    phone.tap("done")
    page.wait_for_selector("#log-0")
    yield "home"
    phone.tap("nav-days")
    yield "days"
    page.locator(".entry").first.click()
    page.wait_for_selector("#correct")
    yield "entry"
    phone.tap("withdraw")
    yield "entry-asking"
    phone.tap("withdraw-no", "back", "nav-story")
    page.click("#table > summary")
    yield "story"
    phone.tap("nav-more")
    yield "more"
    phone.tap("go-drawer", "ply-3", "make-single", "colour-2")
    page.fill("#sock-name", "Sunday sock")
    phone.tap("keep-sock")
    page.wait_for_selector("#lose-0")
    yield "drawer"
    phone.tap("drawer-done", "go-reminders", "time-2030")
    yield "reminders"
    phone.tap("back", "help")
    yield "help"
