"""Every screen for everyone: axe in both themes, nothing overflows, right to left, keys big enough, plain words."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, Route

from tests.journeys.phones import Clinic, Phone
from tests.journeys.tour import tour

WORDS = Path(__file__).resolve().parents[2] / "web" / "phone" / "words"
MEASURED = 48  # CSS px, the least side of a key (house rule; WCAG 2.2 AA asks 24)

STRETCH = """
const accents = { a: 'à', e: 'ë', i: 'ï', o: 'ö', u: 'ü', A: 'Å', E: 'É' };
const stretch = (text) => text.split(/(\\{\\w+\\})/).map((part) => part.startsWith('{') ? part
  : part.replace(/[aeiouAE]/g, (letter) => accents[letter])).join('') + ' ' + 'łong'.repeat(0) + 'wørd '.repeat(Math.ceil(text.length / 14));
for (const [key, words] of Object.entries(W)) {
  W[key] = typeof words === 'string' ? stretch(words).trim()
    : Object.fromEntries(Object.entries(words).map(([form, text]) => [form, stretch(text).trim()]));
}
export default W;
"""

OVERFLOWS = """() => {
  const wide = [...document.querySelectorAll('body *')].filter((one) => !one.closest('.scroll') && !one.closest('svg'))
    .filter((one) => { const box = one.getBoundingClientRect(); return box.width && (box.right > innerWidth + 1 || box.left < -1); });
  const cut = [...document.querySelectorAll('button, .notice, h1, h2, p')]
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


@pytest.mark.journey
def test_a_stretched_language_overflows_nothing_at_320_px_and_200_percent_text(
    clinic: Clinic, new_phone: Callable[..., Phone]
):
    phone = new_phone(viewport={"width": 320, "height": 640})
    stretched = (WORDS / "en.js").read_text().replace("export default {", "const W = {") + STRETCH

    def give(route: Route) -> None:
        route.fulfill(content_type="text/javascript", body=stretched)

    phone.context.route("**/phone/words/en.js", give)
    phone.context.add_init_script(
        "document.addEventListener('DOMContentLoaded', () => { document.documentElement.style.fontSize = '200%'; })"
    )
    wrong: list[str] = []
    phone.says = lambda text: None  # type: ignore[method-assign]  # the words are not ours here
    for screen in tour(phone, clinic.code(clinic.person("Anouk"))):
        wrong += [f"{screen}: {one}" for one in phone.page.evaluate(OVERFLOWS)]
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


def english() -> list[str]:
    """Every English string a wearer can read, as sentences with something filled in."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("no Node on the path")
    script = f"import words from '{(WORDS / 'en.js').as_uri()}'; console.log(JSON.stringify(words))"
    done = subprocess.run([node, "--input-type=module", "-e", script], capture_output=True, text=True, check=True)
    found: list[str] = []
    for words in json.loads(done.stdout).values():
        found += [words] if isinstance(words, str) else words.values()
    rules = json.loads((WORDS.parents[1] / "shared" / "safety-rules.json").read_text())["rules"]
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
