"""Every screen for everyone: axe in both themes, nothing overflows, right to left, keys big enough, plain words."""

from __future__ import annotations

import json
import math
import re
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, Route

from tests.journeys.phones import Clinic, Phone
from tests.journeys.tour import tour
from tests.node import node

WORDS = Path(__file__).resolve().parents[2] / "web" / "phone" / "words"
RULES = WORDS.parents[1] / "shared" / "safety-rules.json"
MEASURED = 48  # CSS px, the least side of a key (house rule; WCAG 2.2 AA asks 24)

ACCENTS = str.maketrans("aeiouAE", "àëïöüÅÉ")


def stretch(words: Any) -> Any:
    """Half as long again, as translations of short English words are; what is filled in keeps its name."""
    if isinstance(words, dict):
        return {key: stretch(text) for key, text in words.items()}
    parts = re.split(r"(\{\w+\})", words)
    accented = "".join(part if part.startswith("{") else part.translate(ACCENTS) for part in parts)
    return accented + " wørd" * math.ceil(len(words) / 14)


def stretched_words() -> str:
    """The module of a language that is no language."""
    return f"export default {json.dumps(stretch(english_words()))};"


def stretched_rules() -> str:
    """The safety rules as they are, told in that language."""
    rules = json.loads(RULES.read_text())
    for rule in rules["rules"]:
        rule["text"] = {"en": stretch(rule["text"]["en"])}
    return json.dumps(rules)


# The screen's own width: a phone's browser zooms out when a page sticks out, and innerWidth grows with it.
OVERFLOWS = """() => {
  const wide = [...document.querySelectorAll('body *')].filter((one) => !one.closest('.scroll') && !one.closest('svg'))
    .filter((one) => { const box = one.getBoundingClientRect(); return box.width && (box.right > screen.width + 1 || box.left < -1); });
  const cut = [...document.querySelectorAll('button, a, .notice, h1, h2, p, li, dt, dd, label, legend, summary')]
    .filter((one) => one.scrollWidth > one.clientWidth + 1 && getComputedStyle(one).display !== 'inline' && !one.closest('.scroll'));
  return [...wide, ...cut].map((one) => `${one.tagName} #${one.id} .${one.className} ${one.textContent.trim().slice(0, 40)}`);
}"""

SMALL = """(least) => [...document.querySelectorAll('button, a[href], summary, input, textarea, [role=button]')]
  .filter((one) => one.getClientRects().length && !one.closest('svg'))
  .map((one) => ({ one, box: one.getBoundingClientRect() }))
  .filter(({ one, box }) => box.height < (one.matches('.link, .band') ? 44 : least) - 0.5 || box.width < 44)
  .map(({ one, box }) => `${one.tagName} #${one.id} ${Math.round(box.width)}×${Math.round(box.height)}`)"""


def broken(page: Page, screen: str) -> list[str]:
    found: dict[str, Any] = Axe().run(page).response
    return [
        f"{screen}: {rule['id']} {node['target']} {node['failureSummary'][:200]}"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]


@pytest.mark.journey
def test_axe_finds_nothing_on_any_screen_in_either_theme(clinic: Clinic, phone: Phone):
    wrong: list[str] = []
    small: list[str] = []
    code = clinic.code(clinic.person("Anouk", tags=["diabetes"]))
    for screen in tour(phone, code):
        for scheme in ("light", "dark"):
            phone.page.emulate_media(color_scheme=scheme, reduced_motion="reduce")  # type: ignore[arg-type]
            wrong += broken(phone.page, f"{screen} {scheme}")
        small += [f"{screen}: {one}" for one in phone.page.evaluate(SMALL, MEASURED)]
    assert wrong == []
    assert small == []


TWICE = "document.addEventListener('DOMContentLoaded', () => { document.documentElement.style.fontSize = '200%'; })"


@pytest.mark.journey
def test_a_stretched_language_overflows_nothing_at_320_px_and_200_percent_text(
    clinic: Clinic, new_phone: Callable[..., Phone]
):
    phone = new_phone(viewport={"width": 320, "height": 640})
    words, rules = stretched_words(), stretched_rules()

    def give_words(route: Route) -> None:
        route.fulfill(content_type="text/javascript", body=words)

    def give_rules(route: Route) -> None:
        route.fulfill(content_type="application/json", body=rules)

    phone.context.route("**/phone/words/en.js", give_words)
    phone.context.route("**/safety-rules.json", give_rules)
    phone.context.add_init_script(TWICE)
    wrong: list[str] = []
    phone.says = lambda text: None  # type: ignore[method-assign]  # the words are not ours here
    for screen in tour(phone, clinic.code(clinic.person("Anouk", tags=["diabetes", "heart_failure"]))):
        wrong += [f"{screen}: {one}" for one in phone.page.evaluate(OVERFLOWS)]
    assert wrong == []


@pytest.mark.journey
@pytest.mark.parametrize("locale", ["de", "es", "ar"])
def test_our_own_languages_overflow_nothing_at_320_px_and_200_percent_text(
    clinic: Clinic, new_phone: Callable[..., Phone], locale: str
):
    phone = new_phone(viewport={"width": 320, "height": 640}, locale=locale)
    phone.context.add_init_script(TWICE)
    wrong: list[str] = []
    phone.says = lambda text: None  # type: ignore[method-assign]
    for screen in tour(phone, clinic.code(clinic.person("Anouk"))):
        assert phone.page.locator("html").get_attribute("lang") == locale
        wrong += [f"{screen}: {one}" for one in phone.page.evaluate(OVERFLOWS)]
    assert wrong == []


LINES = """() => [...document.querySelectorAll('.places button, #help, h1')].flatMap((one) => {
  const range = document.createRange();
  range.selectNodeContents(one);
  const lines = new Set([...range.getClientRects()].filter((box) => box.height > 8 && box.width > 8)
    .map((box) => Math.round(box.top / 4)));
  const box = one.getBoundingClientRect();
  const inside = [...range.getClientRects()].every((part) => part.left >= box.left - 1 && part.right <= box.right + 1);
  const most = one.tagName === 'H1' ? 3 : one.id === 'help' ? 1 : 2;  // the picture of a place and its one line
  return inside && lines.size <= most ? [] : [`${one.id} ${one.textContent}: ${lines.size} lines`];
})"""


@pytest.mark.journey
def test_places_and_help_stand_on_one_line_inside_their_keys_at_320_px(clinic: Clinic, new_phone: Callable[..., Phone]):
    person = clinic.person("Anouk")
    wrong: list[str] = []
    for locale in ("en", "de", "es", "ar"):
        phone = new_phone(viewport={"width": 320, "height": 640}, locale=locale)
        phone.linked(clinic.code(person))
        for place in ("home", "days", "story", "more"):
            phone.tap(f"nav-{place}")
            wrong += [f"{locale} {place}: {one}" for one in phone.page.evaluate(LINES)]
    assert wrong == []


@pytest.mark.journey
def test_arabic_runs_from_right_to_left_on_every_screen(clinic: Clinic, new_phone: Callable[..., Phone]):
    phone = new_phone(viewport={"width": 320, "height": 640}, locale="ar")
    wrong: list[str] = []
    phone.says = lambda text: None  # type: ignore[method-assign]
    for screen in tour(phone, clinic.code(clinic.person("Anouk"))):
        assert phone.page.locator("html").get_attribute("dir") == "rtl"
        wrong += [f"{screen}: {one}" for one in phone.page.evaluate(OVERFLOWS)]
        latin = phone.page.evaluate("document.getElementById('main').innerText.match(/[A-Za-z]{4,}/g) ?? []")
        wrong += [f"{screen}: {word}" for word in latin if word not in NAMES]
    assert wrong == []


NAMES = {"Anouk", "Marram", "Yard", "Clinic", "Plytide", "English", "Deutsch", "Espa", "Sunday", "sock", "ABCD", "EFGH"}
NAMES |= {"walked", "market", "Hot"}


def english_words() -> dict[str, Any]:
    """The English language file."""
    script = f"import words from '{(WORDS / 'en.js').as_uri()}'; console.log(JSON.stringify(words))"
    done = subprocess.run([node(), "--input-type=module", "-e", script], capture_output=True, text=True, check=True)
    words: dict[str, Any] = json.loads(done.stdout)
    return words


def english() -> list[str]:
    """Every English string a wearer can read, as sentences with something filled in."""
    found: list[str] = []
    for words in english_words().values():
        found += [words] if isinstance(words, str) else words.values()
    rules = json.loads(RULES.read_text())["rules"]
    found += [text for rule in rules for text in rule["text"]["en"].values()]
    return [re.sub(r"\{\w+\}", "May 3", text) for text in found]


def test_no_sentence_a_wearer_reads_is_longer_than_15_words():
    long = [
        sentence for text in english() for sentence in re.split(r"(?<=[.!?:])\s+", text) if len(sentence.split()) > 15
    ]
    assert long == []


def test_the_english_reads_at_grade_six_or_below():
    import textstat

    told = [text if text[-1] in ".!?" else f"{text}." for text in english()]
    passages = [text for text in told if len(text.split()) >= 12]
    hard = [(textstat.flesch_kincaid_grade(text), text) for text in passages]
    assert [one for one in hard if one[0] > 6.5] == []
    assert textstat.flesch_kincaid_grade(" ".join(told)) <= 6


@pytest.mark.parametrize("locale", ["en", "ar"])
def test_a_long_name_gives_way_to_the_key_for_help(
    clinic: Clinic, new_phone: Callable[..., Phone], locale: str
) -> None:
    phone = new_phone(viewport={"width": 320, "height": 640}, locale=locale)
    phone.linked(clinic.code(clinic.person("Wilhelmina Featherstonehaugh-Cholmondeley")))
    inside = """() => { const [key, name] = ['#help', '.mark'].map((one) => document.querySelector(one));
      const [at, beside] = [key, name].map((one) => one.getBoundingClientRect());
      return key.scrollWidth <= key.clientWidth && name.scrollWidth <= name.clientWidth
        && (at.right <= beside.left || beside.right <= at.left) && at.left >= 0 && at.right <= innerWidth; }"""
    assert phone.page.evaluate(inside)
