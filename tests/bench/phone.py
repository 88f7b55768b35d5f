"""The phone app: taps and time of a day's log, bytes before the first log, milliseconds on a slow phone."""

from __future__ import annotations

import argparse
import gzip
import json
import os
import statistics
import tempfile
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from plytide.http.web_files import shell_files
from plytide.settings import WEB_ROOT
from tests import chromium
from tests.actors import PASSWORD, Server, free_port, plytide, running, wait_until_ready
from tests.bench import step
from tests.journeys.phones import Phone, clinic_at, phone_in

SLOW = 4  # times slower than this machine's CPU
A_TAP = 1.5  # seconds a person takes to find and hit a key: a judgement, for the sum only
GOALS = {"taps": 6, "seconds": 20, "kilobytes": 140, "cold_form_ms": 1000, "save_ms": 100}


def served(stack: ExitStack) -> Server:
    folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
    data, log, port = folder / "data", folder / "serve.log", free_port()
    named = ("--clinic", "Marram Yard Clinic", "--login", "ida")
    plytide("init", "--data", str(data), *named, PLYTIDE_PASSWORD=PASSWORD)
    process = stack.enter_context(running("serve", "--data", str(data), "--port", str(port), log=log))
    url = f"http://127.0.0.1:{port}"
    wait_until_ready(f"{url}/", process, log)
    return Server(url, data, "ida", PASSWORD, process)


def shell_bytes() -> dict[str, int]:
    """Compressed size of everything the service worker fetches in English and Arabic, the largest, by kind of file."""
    sizes: dict[str, int] = {}
    spoken = [name for name in shell_files(WEB_ROOT) if not name.endswith(("/words/de.js", "/words/es.js"))]
    for name in spoken:
        kind = name.rsplit(".", 1)[-1]
        sizes[kind] = sizes.get(kind, 0) + len(gzip.compress((WEB_ROOT / name).read_bytes(), 6))
    return sizes


def tapped(phone: Phone, *ids: str) -> int:
    phone.tap(*ids)
    return len(ids)


def day_again(phone: Phone) -> int:
    """The same socks as before, all well: from the home screen to saved."""
    taps = tapped(phone, "log-0", "none-same", "fit-good", "comfort-8", "skin-fine", "save")
    phone.page.wait_for_selector("#done")
    return taps


def day_with_other_socks(phone: Phone) -> int:
    taps = tapped(phone, "log-0", "none", "sock-0")
    phone.page.wait_for_timeout(700)  # sooner, the second tap is taken for a trembling thumb
    taps += tapped(phone, "sock-0", "next", "fit-good", "comfort-8", "skin-fine", "save")
    phone.page.wait_for_selector("#done")
    return taps


# Times the page itself takes, from the event to the first frame that shows the result.
SAVE = """() => new Promise((done) => {
  const start = performance.now();
  new MutationObserver((_, seer) => {
    if (!document.getElementById('done')) return;
    seer.disconnect();
    requestAnimationFrame(() => done(performance.now() - start));
  }).observe(document.getElementById('app'), { childList: true });
  document.getElementById('save').click();
})"""

TO_FORM = """() => new Promise((done) => {
  const open = () => {
    if (!document.getElementById('log-0')) return requestAnimationFrame(open);
    document.getElementById('log-0').click();
    requestAnimationFrame(() => done([performance.now(), Boolean(document.getElementById('none-same'))]));
  };
  open();
})"""


def cold_starts(phone: Phone, times: int) -> list[float]:
    """From a navigation without a network to a form that answers, in ms; a new page each time."""
    found = []
    for _ in range(times):
        page = phone.context.new_page()
        slow = page.context.new_cdp_session(page)
        slow.send("Emulation.setCPUThrottlingRate", {"rate": SLOW})
        page.goto(f"{phone.url}/phone/", wait_until="commit")
        ms, usable = page.evaluate(TO_FORM)
        assert usable
        found.append(ms)
        page.close()
    return found


def cold_cpu(phone: Phone, times: int) -> list[float]:
    """The same start in CPU time of the page's main thread, times the slow-down: what a busy machine can't blur."""
    found = []
    for _ in range(times):
        page = phone.context.new_page()
        tools = page.context.new_cdp_session(page)
        tools.send("Performance.enable", {"timeDomain": "threadTicks"})
        page.goto(f"{phone.url}/phone/", wait_until="commit")
        page.evaluate(TO_FORM)
        metrics = tools.send("Performance.getMetrics")["metrics"]
        found += [SLOW * 1000 * one["value"] for one in metrics if one["name"] == "ThreadTime"]
        page.close()
    return found


def saves(phone: Phone, times: int) -> list[float]:
    found = []
    for _ in range(times):
        phone.tap("log-0", "none-same", "fit-good", "comfort-8", "skin-fine")
        phone.page.wait_for_selector("html:not([data-settling]) #save")
        found.append(phone.page.evaluate(SAVE))
        phone.tap("done")
        phone.page.wait_for_selector("#log-0")
    return found


def measure(times: int) -> dict[str, Any]:
    with ExitStack() as stack:
        server = served(stack)
        clinic = stack.enter_context(clinic_at(server))
        playwright = stack.enter_context(sync_playwright())
        path = chromium.executable(playwright.chromium.executable_path)
        browser = playwright.chromium.launch(executable_path=path, args=chromium.ARGS)
        phone = phone_in(browser, server.url, service_workers="allow", hasty=False)
        phone.open()
        phone.join(clinic.code(clinic.person("Anouk")))
        phone.works_offline()
        phone.log()
        phone.tap("done")
        phone.page.wait_for_selector("#log-0")
        start = phone.page.evaluate("performance.now()")
        taps = day_again(phone)
        machine = (phone.page.evaluate("performance.now()") - start) / 1000
        phone.tap("done")
        other = day_with_other_socks(phone)
        phone.tap("done")
        phone.offline()
        tools = phone.context.new_cdp_session(phone.page)
        tools.send("Emulation.setCPUThrottlingRate", {"rate": SLOW})
        save = saves(phone, times)
        cold = cold_starts(phone, times)
        cpu = cold_cpu(phone, times)
        browser.close()
    sizes = shell_bytes()
    return {
        "taps": taps,
        "taps_with_two_socks": other,
        "seconds": round(taps * A_TAP + machine, 1),
        "machine_seconds": round(machine, 2),
        "kilobytes": round(sum(sizes.values()) / 1000, 1),
        "kilobytes_by_kind": {kind: round(size / 1000, 1) for kind, size in sorted(sizes.items())},
        "cold_form_ms": round(statistics.median(cold)),
        "cold_form_ms_worst": round(max(cold)),
        "cold_cpu_ms": round(statistics.median(cpu)),
        "save_ms": round(statistics.median(save)),
        "save_ms_worst": round(max(save)),
    }


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench phone", description=__doc__)
    parser.add_argument("--times", type=int, default=7, help="repetitions of each timing")
    parser.add_argument("--quick", action="store_true", help="twice each")
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args(argv)
    step("the phone's app in a browser that is slowed down")
    found = measure(2 if given.quick else given.times)
    if given.json:
        print(json.dumps(found))
    else:
        for name, value in found.items():
            goal = GOALS.get(name)
            print(f"{name:22} {value}" + (f"   goal ≤ {goal}" if goal else ""))
        load = ", ".join(f"{one:.1f}" for one in os.getloadavg())
        print(f"load of this machine: {load}")
        print(f"CPU slowed {SLOW}×, no network; {A_TAP} s for a tap is a judgement")
    return 0 if all(found[name] <= goal for name, goal in GOALS.items()) else 1
