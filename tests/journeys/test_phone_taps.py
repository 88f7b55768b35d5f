"""A thumb that trembles: each key of each step tapped twice, and what is kept is what one tap keeps."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.phones import LEFT, Clinic, Phone

pytestmark = pytest.mark.journey


@pytest.fixture
def phone(new_phone: Callable[..., Phone]) -> Phone:
    """One that takes its time over a screen just shown, as in a hand."""
    return new_phone(hasty=False)


GAPS = (80, 200, 350, 500)  # ms from one tap to the next
SOCK = {"ply": 3, "make": "single"}
RED = {"place": "calf", "finding": "redness", "redness_minutes": None}
# What the wearer has said when each step is shown; a step this table does not name starts from nothing said.
SAID: dict[str, list[dict[str, Any]]] = {
    "socks": [{}, {"stack": [SOCK]}],
    "fit": [{"stack": [SOCK]}, {"stack": [SOCK], "fit": "loose"}],
    "comfort": [{"stack": [SOCK], "fit": "good"}],
    "skin": [
        {"stack": [SOCK], "fit": "good", "comfort": 8},
        {"stack": [SOCK], "fit": "good", "comfort": 8, "skin": "found", "findings": [RED]},
    ],
    "review": [{"stack": [SOCK], "fit": "good", "comfort": 8, "skin": "fine", "visited": True}],
}

# A draft put where the phone keeps them, told to the page as another tab would tell it; then home, from where it is
# opened.
BEGIN = """async ({ limb, fields }) => {
  history.replaceState({ screen: 'home', depth: 0 }, '');
  dispatchEvent(new PopStateEvent('popstate', { state: { screen: 'home' } }));
  const { newDraft } = await import('/phone/checkin.js');
  const { isDraftKey, keyOf } = await import('/phone/drafts.js');
  const draft = { ...newDraft(limb, new Date()), ...fields };
  await new Promise((done, failed) => {
    const request = indexedDB.open('plytide');
    request.onerror = () => failed(request.error);
    request.onsuccess = () => {
      const work = request.result.transaction('small', 'readwrite');
      const small = work.objectStore('small');
      small.getAllKeys().onsuccess = (event) => {
        for (const key of event.target.result) if (isDraftKey(key)) small.delete(key);
        small.put(draft, keyOf(draft));
      };
      work.oncomplete = () => { request.result.close(); done(); };
    };
  });
  for (const one of document.querySelectorAll('.begun')) one.dataset.before = 'yes';
  new BroadcastChannel('plytide').postMessage('changed');
}"""

KEPT = """() => new Promise((done) => {
  const request = indexedDB.open('plytide');
  request.onsuccess = () => {
    const all = request.result.transaction(['small', 'checkins']);
    const found = {};
    all.objectStore('small').getAll(IDBKeyRange.bound('draft:', 'draft;')).onsuccess = (event) => (found.drafts = event.target.result);
    all.objectStore('checkins').getAll().onsuccess = (event) => (found.entries = event.target.result.map((row) => row.checkin));
    all.oncomplete = () => { request.result.close(); done({ ...found, title: document.getElementById('title').textContent,
      open: [...document.querySelectorAll('details[open]')].map((one) => one.id) }); };
  };
})"""

KEYS = """() => [...document.querySelectorAll('main button, main summary, main g[data-do], .foot button')]
  .filter((one) => one.id || one.parentElement.id)
  .map((one) => (one.id ? `#${one.id}` : `#${one.parentElement.id} > summary`))"""

OWN_TIME = ("opened_at", "written_at", "time", "id", "zone")


def without_times(kept: dict[str, Any]) -> dict[str, Any]:
    for one in [*kept["drafts"], *kept["entries"]]:
        for name in OWN_TIME:
            one.pop(name, None)
    return kept


def begin(phone: Phone, limb: str, step: str, fields: dict[str, Any]) -> None:
    phone.page.evaluate(BEGIN, {"limb": limb, "fields": {"danger": "asked", **fields, "step": step}})
    expect(phone.page.locator(".begun:not([data-before])")).to_be_visible()  # of this draft, not of the one before
    phone.page.clock.run_for(700)
    phone.page.locator("#log-0").tap()
    phone.page.clock.run_for(700)
    if step == "review":
        for fold in ("when", "rest"):
            phone.page.evaluate("(id) => (document.getElementById(id).open = true)", fold)


def middle_of(page: Page, key: str) -> tuple[float, float]:
    found = page.locator(key)
    found.scroll_into_view_if_needed()
    box = found.bounding_box()
    assert box, key
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def tapped(phone: Phone, key: str, gap: int | None) -> dict[str, Any]:
    """What is kept and shown after one tap on a key, or after two in the same place."""
    page = phone.page
    x, y = middle_of(page, key)
    page.touchscreen.tap(x, y)
    if gap is not None:
        page.clock.run_for(gap)
        page.touchscreen.tap(x, y)
    page.clock.run_for(700)
    page.wait_for_timeout(0)
    kept: dict[str, Any] = without_times(page.evaluate(KEPT))
    return kept


def steady(phone: Phone) -> None:
    """From now on this page's time goes on only when it is told to."""
    phone.page.clock.install()
    phone.page.reload()
    phone.page.wait_for_selector("html[data-ready=yes]")
    phone.page.clock.pause_at(datetime.now() + timedelta(seconds=5))


def some(keys: list[str]) -> list[str]:
    """All keys but those of a long row of the same kind, of which the ends and one between."""
    found: list[str] = []
    for stem in dict.fromkeys(key.rpartition("-")[0] or key for key in keys):
        row = [key for key in keys if (key.rpartition("-")[0] or key) == stem]
        found += row if len(row) < 4 else [row[0], row[len(row) // 2], row[-1]]
    return found


def joined(clinic: Clinic, phone: Phone) -> str:
    person = clinic.person("Anouk")
    phone.linked(clinic.code(person))
    return clinic.limbs(person)[0]


@pytest.mark.parametrize("step", ["danger", "socks", "fit", "comfort", "skin", "review"])
def test_two_taps_on_any_key_keep_what_one_keeps(clinic: Clinic, phone: Phone, step: str):
    limb = joined(clinic, phone)
    if step not in phone.page.evaluate("import('/phone/checkin.js').then((one) => one.STEPS)"):
        pytest.skip("no such step")
    steady(phone)
    wrong: list[str] = []
    phone.context.route("**/api/**", lambda route: route.abort())
    for fields in SAID.get(step, [{}]):
        begin(phone, limb, step, fields)
        for i, key in enumerate(some(phone.page.evaluate(KEYS))):
            if key == "#save":
                continue
            begin(phone, limb, step, fields)
            once = tapped(phone, key, None)
            # A wrong answer in any gap is one too many; each key is tried at a short and a long one, in turn.
            for gap in (GAPS[i % 2], GAPS[2 + i % 2]):
                begin(phone, limb, step, fields)
                twice = tapped(phone, key, gap)
                if twice != once:
                    wrong.append(f"{step} {key} {gap} ms: {json.dumps(twice)} is not {json.dumps(once)}")
    assert wrong == []


def test_save_tapped_twice_keeps_one_entry_and_shows_it(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    steady(phone)
    phone.context.route("**/api/**", lambda route: route.abort())
    for number, gap in enumerate(GAPS, 1):
        begin(phone, limb, "review", SAID["review"][0])
        tapped(phone, "#save", gap)
        phone.page.wait_for_selector("#done")
        kept = phone.page.evaluate(KEPT)
        assert (len(kept["entries"]), kept["drafts"], kept["title"]) == (number, [], "All written down"), gap


def plies(kept: dict[str, Any]) -> list[int]:
    (draft,) = kept["drafts"]
    return [sock["ply"] for sock in draft["stack"]]


def test_a_sock_tapped_twice_asks_and_two_slow_taps_are_two(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    steady(phone)
    for gap in GAPS:
        for answer, meant in (("#twice-yes", [3, 3]), ("#twice-no", [3])):
            begin(phone, limb, "socks", {})
            assert plies(tapped(phone, "#sock-0", gap)) == [3]
            phone.says("Do you wear two of them?")
            assert plies(tapped(phone, answer, gap)) == meant
    begin(phone, limb, "socks", {})
    tapped(phone, "#sock-0", None)
    assert plies(tapped(phone, "#sock-0", None)) == [3, 3]


def slid(phone: Phone, key: str) -> None:
    """A finger goes down on a key, slides 12 px and comes up."""
    x, y = middle_of(phone.page, key)
    phone.page.mouse.move(x - 6, y)
    phone.page.mouse.down()
    phone.page.mouse.move(x + 6, y, steps=3)
    phone.page.mouse.up()


def test_a_finger_that_slides_12_px_answers_nothing(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    steady(phone)
    for step, key in (("comfort", "#comfort-5"), ("fit", "#fit-good"), ("skin", "#skin-fine")):
        begin(phone, limb, step, SAID[step][0])
        before = without_times(phone.page.evaluate(KEPT))
        slid(phone, key)
        assert without_times(phone.page.evaluate(KEPT)) == before
        assert tapped(phone, key, None) != before  # a plain tap there does answer


def test_a_key_of_the_keyboard_held_down_answers_once(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    steady(phone)
    begin(phone, limb, "fit", {"stack": [SOCK], "fit": "loose"})
    phone.page.focus("#sign-sinks_to_bottom")
    for _ in range(4):
        phone.page.keyboard.down("Enter")  # the second and later ones are repeats
    phone.page.keyboard.up("Enter")
    (draft,) = phone.page.evaluate(KEPT)["drafts"]
    assert draft["signs"] == ["sinks_to_bottom"]


def test_a_step_just_shown_looks_so_and_says_nothing_to_a_tap(clinic: Clinic, phone: Phone):
    limb = joined(clinic, phone)
    steady(phone)
    begin(phone, limb, "comfort", SAID["comfort"][0])
    look = "(id) => getComputedStyle(document.querySelector(id)).borderTopStyle"
    assert phone.page.evaluate(look, "#comfort-4") == "solid"
    x, y = middle_of(phone.page, "#comfort-4")
    phone.page.touchscreen.tap(x, y)
    phone.page.clock.run_for(450)
    expect(phone.page.locator("#skin-fine")).to_be_visible()
    assert phone.page.evaluate(look, "#skin-fine") == "dashed"
    phone.page.clock.run_for(100)
    assert phone.page.evaluate(look, "#skin-fine") == "solid"


def test_news_of_a_sync_does_not_take_a_key_away_under_a_finger(clinic: Clinic, phone: Phone):
    """Drawn anew between a finger's down and its up, the page would have lost the tap."""
    joined(clinic, phone)
    page = phone.page
    page.wait_for_selector("html:not([data-settling])")
    for gone in (False, True):
        box = page.evaluate("() => (window.before = document.getElementById('log-0')).getBoundingClientRect().toJSON()")
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.mouse.down()
        page.evaluate("() => (window.before = document.getElementById('log-0'))")
        page.evaluate("() => new BroadcastChannel('plytide').postMessage('changed')")
        page.wait_for_timeout(300)
        if not gone:
            page.mouse.up()
            page.wait_for_selector("#none")
            phone.tap("back")
            page.wait_for_selector("#log-0")
            page.wait_for_selector("html:not([data-settling])")
    # A finger that never comes up holds the page up for two seconds only.
    page.wait_for_function("() => !window.before.isConnected")


def test_a_tap_on_a_message_answers_nothing_under_it(clinic: Clinic, phone: Phone) -> None:
    """ "Saved on this phone" lies over the next question's keys, and is gone with the first answer."""
    phone.linked(clinic.code(clinic.person("Oda", limbs=(LEFT, LEFT | {"side": "right"}))))
    phone.tap("log-0", "none")
    phone.add_sock(3)
    phone.tap("next", "fit-good", "comfort-8", "skin-fine", "save-next")
    toast = phone.page.locator("#toast")
    expect(toast).not_to_be_empty()
    under = """() => { const box = document.getElementById('toast').getBoundingClientRect();
      return document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2).id; }"""
    assert phone.page.evaluate(under) == "toast"
    phone.tap("none")
    expect(phone.page.locator("#add-sock, #sock-0").first).to_be_attached()
    assert toast.text_content() == ""
