"""The phone's pure modules, tested in Node as they are; and what the shell promises, held against its files."""

from __future__ import annotations

import gzip
import json
import random
import re
import shutil
import subprocess
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from plytide.model import FINDINGS, SIGNS, CheckIn, Limb, SkinFinding
from plytide.routes.shell import shell_files
from plytide.safety import advice_for
from tests.actors import Cast
from tests.web import draw_icons

ROOT = Path(__file__).resolve().parents[1]
WEB = ROOT / "web"
PHONE = WEB / "phone"
BUDGET = 120_000  # bytes, compressed, of everything the phone loads before the first log


def test_the_pure_modules_of_the_web_do_what_their_tests_say():
    node = shutil.which("node")
    if node is None:
        pytest.skip("no Node on the path: the browser journeys still run these modules")
    files = sorted(str(path) for path in (ROOT / "tests" / "web").glob("*.test.mjs"))
    assert files
    done = subprocess.run([node, "--test", *files], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]


def test_the_icons_are_what_our_script_draws():
    for name, how in draw_icons.ALL.items():
        drawn = draw_icons.png(draw_icons.picture(*how))
        kept = (draw_icons.ICONS / name).read_bytes()
        assert draw_icons.pixels_of(kept) == draw_icons.pixels_of(drawn), name


def test_the_manifest_has_what_an_install_asks_for():
    manifest = json.loads((PHONE / "app.webmanifest").read_text())
    assert {"id", "name", "short_name", "start_url", "scope", "display", "background_color"} <= manifest.keys()
    assert len(manifest["short_name"]) <= 12
    sizes = {(icon["sizes"], icon["purpose"]) for icon in manifest["icons"]}
    assert {("192x192", "any"), ("512x512", "any"), ("512x512", "maskable")} <= sizes
    for icon in manifest["icons"]:
        assert (WEB / icon["src"].lstrip("/")).is_file()


def test_everything_before_the_first_log_fits_the_budget():
    sizes = {name: len(gzip.compress((WEB / name).read_bytes(), 6)) for name in shell_files(WEB)}
    assert sum(sizes.values()) <= BUDGET, sorted(sizes.items(), key=lambda item: -item[1])[:12]


IMPORTED = re.compile(r"^(?:import|export)\b[^'\"]*?from '([^']+)'", re.MULTILINE)


def modules_from(script: Path, seen: list[Path]) -> list[Path]:
    """The script and all it imports at its start, in the order they are met."""
    if script not in seen:
        seen.append(script)
        for name in IMPORTED.findall(script.read_text()):
            modules_from((script.parent / name).resolve(), seen)
    return seen


def test_the_page_asks_for_every_module_at_once():
    """Without the list the browser finds one layer of imports after the other: slow on a cold start."""
    asked = re.findall(r'<link rel="modulepreload" href="([^"]+)">', (PHONE / "index.html").read_text())
    needed = [f"/{path.relative_to(WEB)}" for path in modules_from(PHONE / "phone.js", [])[1:]]
    assert sorted(asked) == sorted(needed)


def test_the_shell_is_sent_packed_to_who_takes_it(cast: Cast):
    with cast.nobody.get("/phone/words/en.js") as plain:
        whole = plain.data
    packed = cast.nobody.get("/phone/words/en.js", headers={"Accept-Encoding": "gzip"})
    assert (packed.headers["Content-Encoding"], packed.headers["Vary"]) == ("gzip", "Accept-Encoding")
    assert gzip.decompress(packed.data) == whole == (PHONE / "words" / "en.js").read_bytes()
    assert int(packed.headers["Content-Length"]) == len(packed.data) < len(whole) / 2
    again = {"Accept-Encoding": "gzip", "If-None-Match": packed.headers["ETag"]}
    with cast.nobody.get("/phone/words/en.js", headers=again) as unchanged:
        assert unchanged.status_code == 304


def test_pictures_are_not_packed_twice(cast: Cast):
    with cast.nobody.get("/phone/icons/icon-192.png", headers={"Accept-Encoding": "gzip"}) as answer:
        assert "Content-Encoding" not in answer.headers


INSIDE = re.compile(r"await (?:s\.|store\.during|read\(|write\(|Promise\.all\(\[s\.|accounts\(\)|change\()")


def test_nothing_but_the_store_is_awaited_where_transactions_are():
    """Anything else ends an IndexedDB transaction in some browsers, and passes unseen in others."""
    lines = (PHONE / "diary.js").read_text().splitlines()
    inner = [line.strip() for line in lines if "await" in line and "await Promise.all(" not in line]
    assert [line for line in inner if not INSIDE.search(line)] == []


def test_markup_has_no_inline_style_or_script():
    wrong = [
        f"{path.name}: {found}"
        for path in PHONE.rglob("*.js")
        for found in re.findall(r'style="|\son\w+="|javascript:', path.read_text())
    ]
    assert wrong == []


def test_the_promise_over_indexeddb_stays_small():
    assert len((PHONE / "idb.js").read_text().splitlines()) <= 50


def test_phone_and_server_give_the_same_advice():
    """Two readers of one rule file, in two languages, on 400 seeded check-ins."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("no Node on the path")
    cases = list(advice_cases(400))
    script = (
        "import { readFileSync } from 'node:fs';"
        f"import {{ evaluate }} from '{(WEB / 'shared' / 'safety.js').as_uri()}';"
        f"const rules = JSON.parse(readFileSync('{WEB / 'shared' / 'safety-rules.json'}'));"
        "const cases = JSON.parse(readFileSync(0));"
        "console.log(JSON.stringify(cases.map(([said, about]) => evaluate(rules, said, about).map((one) => one.id))));"
    )
    done = subprocess.run(
        [node, "--input-type=module", "-e", script],
        input=json.dumps(cases), capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    told = [server_advice(said, about) for said, about in cases]
    assert json.loads(done.stdout) == told
    assert len({rule for rules in told for rule in rules}) >= 7


def advice_cases(count: int) -> Iterator[tuple[dict[str, Any], dict[str, Any]]]:
    draw = random.Random(20250915)
    for i in range(count):
        on = date(2025, 9, 15)
        skin = [
            {"place": "calf", "finding": draw.choice(FINDINGS), "redness_minutes": draw.choice([None, 5, 20, 21, 60])}
            for _ in range(draw.choice([0, 1, 1, 2]))
        ]
        signs = draw.sample(SIGNS, draw.choice([0, 0, 1, 2]))
        earlier = [
            {"id": f"b{n}", "date": str(on - timedelta(days=n)), "weight_kg": draw.choice([None, 78.0, 79.5, 81.0])}
            for n in range(9)
        ]
        said = {
            "id": f"c{i}",
            "date": str(on),
            "skin": skin,
            "signs": signs,
            "weight_kg": draw.choice([None, 80, 81, 82]),
        }
        yield (
            said,
            {
                "tags": draw.choice([[], ["heart_failure"]]),
                "born_on": draw.choice([None, "1960-04-02", "2007-09-15", "2007-09-16", "2017-11-20"]),
                "redness_minutes": draw.choice([10, 20, 30]),
                "earlier": earlier,
            },
        )


def server_advice(said: dict[str, Any], about: dict[str, Any]) -> list[str]:
    def noun(one: dict[str, Any]) -> CheckIn:
        found = tuple(SkinFinding(**each) for each in one.get("skin", ()))
        return CheckIn(
            one["id"], "l", date.fromisoformat(one["date"]), (), 7,
            skin=found, signs=tuple(one.get("signs", ())), weight_kg=one["weight_kg"],
        )  # fmt: skip

    born = about["born_on"]
    limb = Limb("l", born_on=date.fromisoformat(born) if born else None, tags=tuple(about["tags"]))
    earlier = [noun(one) for one in about["earlier"]]
    return [one.rule for one in advice_for(noun(said), limb, earlier, redness_minutes=about["redness_minutes"])]
