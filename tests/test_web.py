"""The phone's pure modules, tested in Node as they are; and what the shell promises, held against its files."""

from __future__ import annotations

import gzip
import json
import random
import re
import subprocess
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from plytide.engine.safety import advice_for
from plytide.http.web_files import shell_files
from plytide.model import FINDINGS, SIGNS, CheckIn, Limb, SkinFinding
from plytide.wire.checkin import Refused, check
from tests.actors import Cast
from tests.node import node
from tests.web import draw_icons

ROOT = Path(__file__).resolve().parents[1]
WEB = ROOT / "web"
PHONE = WEB / "phone"
BUDGET = 140_000  # bytes packed, the safety rules with their sources among them


def test_the_pure_modules_of_the_web_do_what_their_tests_say():
    files = ROOT / "tests" / "web" / "all.mjs"
    done = subprocess.run([node(), str(files)], cwd=ROOT, capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    passed = re.search(r"^# pass (\d+)$", done.stdout, re.MULTILINE)
    assert passed and int(passed[1]) >= 500, done.stdout[-300:]  # none was left out


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
    """English and the largest other language: a phone takes the words of more only when they are chosen."""
    sizes = {name: len(gzip.compress((WEB / name).read_bytes(), 6)) for name in shell_files(WEB)}
    others = sorted(size for name, size in sizes.items() if "/words/" in name and not name.endswith("/en.js"))
    assert len(others) == 3
    assert sum(sizes.values()) - sum(others[:-1]) <= BUDGET, sorted(sizes.items(), key=lambda item: -item[1])[:12]


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


INSIDE = re.compile(
    r"await (?:s\.|store\.during|read\(|write\(|Promise\.all\(\[s\.|accounts\(\)|change\("
    r"|put\(\[|checkinsOf\(s|dropThose\(s)"
)


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


def test_every_export_is_used_and_no_line_runs_on():
    """What the linter of `.ci/run` can't know: it sees one file at a time, and no length. Templates may be long; not
    endless.
    """
    scripts = {p: p.read_text() for p in (ROOT / "web").rglob("*.js") if "vendor" not in p.parts}
    tests = "\n".join(p.read_text() for p in (ROOT / "tests").rglob("*") if p.suffix in (".mjs", ".py"))
    unused = [
        f"{path.relative_to(ROOT)}: {name}"
        for path, text in scripts.items()
        for name in re.findall(r"^export (?:async )?(?:function|const|let|class) (\w+)", text, re.MULTILINE)
        if not any(re.search(rf"\b{name}\b", other) for file, other in scripts.items() if file != path)
        and not re.search(rf"\b{name}\b", tests)
    ]
    long = [
        f"{path.relative_to(ROOT)}:{n}"
        for path, text in scripts.items()
        for n, line in enumerate(text.split("\n"), 1)
        if len(line) > 365
    ]
    assert (unused, long) == ([], [])


def test_the_promise_over_indexeddb_stays_small():
    assert len((PHONE / "idb.js").read_text().splitlines()) <= 50


def test_phone_and_server_give_the_same_advice():
    """Two readers of one rule file, in two languages, on 400 seeded check-ins."""
    cases = list(advice_cases(400))
    script = (
        "import { readFileSync } from 'node:fs';"
        f"import {{ evaluate }} from '{(WEB / 'shared' / 'safety.js').as_uri()}';"
        f"const rules = JSON.parse(readFileSync('{WEB / 'shared' / 'safety-rules.json'}'));"
        "const cases = JSON.parse(readFileSync(0));"
        "console.log(JSON.stringify(cases.map(([said, about]) => evaluate(rules, said, about).map((one) => one.id))));"
    )
    done = subprocess.run(
        [node(), "--input-type=module", "-e", script],
        input=json.dumps(cases), capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    told = [server_advice(said, about) for said, about in cases]
    assert json.loads(done.stdout) == told
    assert len({rule for rules in told for rule in rules}) >= 7


REFUSED: list[dict[str, Any]] = [
    {}, {"hours_worn": 24}, {"hours_worn": 24.5}, {"hours_worn": 30}, {"weight_kg": 2}, {"weight_kg": 1.9},
    {"weight_kg": 400.1},
    {"note": "x" * 1000}, {"note": "x" * 1001}, {"date": "0225-09-15"}, {"date": "2300-01-01"},
    {"skin": [{"place": "calf", "finding": "rash", "redness_minutes": None}] * 21},
]  # fmt: skip


def test_the_phone_finds_before_a_save_what_the_server_would_refuse():
    whole = {"id": "c1", "limb_id": "l1", "date": "2025-09-15", "stack": [], "comfort": 5}
    cases = [{**whole, **fields} for fields in REFUSED]
    script = (
        "import { readFileSync } from 'node:fs';"
        f"import {{ faultsOf }} from '{(PHONE / 'faults.js').as_uri()}';"
        f"import {{ faultWords }} from '{(PHONE / 'ui' / 'phrases.js').as_uri()}';"
        "const told = (said) => faultsOf(said, { now: new Date(2026, 0, 1) })"
        " .map((one) => [one.field, faultWords(one)]);"
        "console.log(JSON.stringify(JSON.parse(readFileSync(0)).map((said) => Object.fromEntries(told(said)))));"
    )
    done = subprocess.run(
        [node(), "--input-type=module", "-e", script],
        input=json.dumps(cases), capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    told: list[dict[str, str]] = json.loads(done.stdout)
    refused = [server_faults(said) for said in cases]
    assert [sorted(one) for one in told] == [sorted(one) for one in refused]
    for field in ("hours_worn", "weight_kg"):
        words = [(one[field], other[field]) for one, other in zip(told, refused, strict=True) if field in one]
        assert words and all(there in here for there, here in words), words


def server_faults(said: dict[str, Any]) -> dict[str, list[str]]:
    try:
        check(said)
    except Refused as refused:
        return refused.errors
    return {}


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
