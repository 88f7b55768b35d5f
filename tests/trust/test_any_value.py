"""No stored value of any noun breaks a page: each field's extremes go in as staff and phones would send them, values
that older versions let in stand in the file, and every page, export, PDF and phone answer still opens.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from marshmallow import fields as kinds

from plytide.http.route import route_of
from plytide.storage.clinics import clinic_path
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import connect
from plytide.wire import fields as wire
from plytide.wire.checkin import CheckInSchema
from tests.conftest import TODAY
from tests.trust import test_routes as table
from tests.trust.conftest import World

ODD = "‮<b onload='x'>\u200b\ufeff=1+1\"\\\n\t\r\u0007 ﷽ 🦿\u0301 \U0010ffff %s {person} {{x}} ../.."


def extremes(field: Any) -> Iterator[Any]:
    """The smallest, the largest and the oddest that a field takes, and a little that it does not."""
    if field.allow_none:
        yield None
    if isinstance(field, kinds.Nested):
        yield from ({name: value} for name, value in every_field(field.schema))
    elif isinstance(field, wire.Several):
        inner = list(extremes(field.inner))[:6]
        yield []
        yield from ([one] for one in inner)
        yield [inner[-1]] * field.most
    elif isinstance(field, wire.Choice):
        yield from {field.choices[0], field.choices[-1]}
    elif isinstance(field, wire.Flag):
        yield from (True, False)
    elif isinstance(field, wire.Whole | wire.Number):
        middle = (field.low + field.high) // 2
        yield from (field.low, field.high, int(middle))
        if isinstance(field, wire.Number):
            yield from (5e-324, field.high - 1e-9)
    elif isinstance(field, wire.Day):
        yield from ("1900-01-01", "2199-12-31", "2024-02-29", TODAY.isoformat())
    elif isinstance(field, wire.Clock):
        yield from ("00:00", "23:59")
    elif isinstance(field, wire.Offset):
        yield from ("+14:59", "-14:59", "-00:00")
    elif isinstance(field, wire.Instant):
        yield from ("1900-01-01T00:00Z", "2199-12-31T23:59:59.999999999+23:59", "1900-01-01T00:00:00-23:59")
        yield from ("2199-12-31T23:59:59-23:59", "1900-01-01T00:00:00+23:59")
    elif isinstance(field, wire.Name):
        yield from ("x" * 64, "..", "__proto__")
    elif isinstance(field, wire.Telephone):
        yield from ("112", "+" * 20 + "0" * 20)
    elif isinstance(field, wire.Zone):
        yield from ("Pacific/Kiritimati", "Etc/GMT+12", "Africa/Monrovia")
    elif isinstance(field, wire.Text):
        yield from ("W" * field.most, (ODD * field.most)[: field.most], "2025-13-45")
        if not field.least:
            yield ""
    elif isinstance(field, kinds.Dict):
        yield {}


def every_field(schema: Any) -> Iterator[tuple[str, Any]]:
    for name, field in schema.fields.items():
        yield from ((field.data_key or name, value) for value in extremes(field))


def bodies(world: World, route: str) -> Iterator[Any]:
    """A body for each extreme of each field of a route, the rest as the table has it."""
    method, rule = route.split(" ", 1)
    row = table.TABLE[route]
    endpoint = next(
        one.endpoint for one in world.app.url_map.iter_rules() if str(one) == rule and method in (one.methods or ())
    )
    said = route_of(world.app, endpoint)
    if said is None or not isinstance(said.body, type):
        return
    for name, value in every_field(said.body()):
        plain = row.body(world) if callable(row.body) else row.body
        yield {**(plain if isinstance(plain, dict) else {}), name: value}


def caller_of(world: World, row: table.Row) -> Any:
    if row.door == "phone":
        return world.callers["own phone"]
    return world.callers["manager" if "manager" in row.roles else row.roles[-1]]


# What would end the session of who asks, or takes what the other tests stand on.
LEFT_OUT = ("/session", "/sessions", "/password", "/second-factor", "/passkeys", "/healthz", "/metrics", "/readyz")
GETS = [route for route in table.TABLE if route.startswith("GET ") and not any(word in route for word in LEFT_OUT)]
WRITES = [
    route
    for route in table.TABLE
    if route.split(" ")[0] in ("POST", "PUT", "PATCH") and not any(word in route for word in LEFT_OUT)
]


SOME = [
    route
    for route in GETS
    if route.endswith(
        ("/me", "/worklist", "<limb_id>", "<person_id>", "/visit-page", "/settings", "/consents", ".html")
    )
]


def broken_pages(world: World, only: list[str] = GETS) -> list[str]:
    """Every page as its callers open it, or `only` some; what does not answer as the table says."""
    found = []
    for route in only:
        row = table.TABLE[route]
        answer = table.call(world, caller_of(world, row), route, row)
        if answer.status_code != row.done:
            found.append(f"{route}: {answer.status_code}")
        answer.get_data()
        answer.close()
    return found


PARTS = 4


@pytest.fixture
def unhurried(world: World) -> World:
    """Ten wrong bodies in a row are nobody's guess here."""
    world.app.config["SETTINGS"] = replace(world.app.config["SETTINGS"], calls_a_minute=0)
    return world


@pytest.mark.parametrize("part", range(PARTS))
def test_the_extremes_of_each_field_are_kept_or_refused_and_break_no_page(unhurried: World, part: int) -> None:
    """In a few parts: opening every page after each route would take minutes."""
    kept = 0
    for route in WRITES[part::PARTS]:
        kept += write_extremes(unhurried, route)
    assert kept > 50
    assert broken_pages(unhurried) == []


def write_extremes(world: World, route: str) -> int:
    """How many were kept."""
    row, kept = table.TABLE[route], 0
    for body in bodies(world, route):
        answer = table.call(world, caller_of(world, row), route, replace(row, body=body))
        assert answer.status_code < 500, (route, body, answer.get_data(as_text=True)[:300])
        kept += answer.status_code < 300
        # What the next call writes over is looked at in between.
        if not route.startswith("POST") and answer.status_code < 300:
            assert world.cast.nora.get(f"/api/clinic/limbs/{world.fixed['limb_id']}").status_code == 200, body
            assert world.callers["own phone"].get("/api/me").status_code == 200, body
    return kept


def test_the_extremes_of_each_item_of_a_check_in_break_no_page(unhurried: World) -> None:
    world = unhurried
    anouk = world.cast.anouk
    items = [
        anouk.checkin(TODAY) | {name: value}
        for name, value in every_field(CheckInSchema())
        if name not in ("id", "limb_id", "written_by", "proof", "replaces")
    ]
    statuses: list[str] = []
    for n in range(0, len(items), 20):
        answer = anouk.sync(*items[n : n + 20])
        assert answer.status_code == 200
        statuses += [receipt["status"] for receipt in answer.get_json()["receipts"]]
    assert statuses.count("kept") > len(items) / 2
    assert broken_pages(world) == []


# What older versions took, or what stands in a file for any other reason: each by itself.
OLD = [
    ("consent", "DROP TRIGGER consent_no_update; UPDATE consent SET said_at = 'yesterday'"),
    ("settings zone", "settings zone=Mars/Olympus"),
    ("settings mail", "settings mail=boss@"),
    ("settings phone", "settings phone=\r\nx"),
    ("settings hours", 'settings hours=[{"days": [], "from": "x", "to": ""}]'),
    ("settings chairs", "settings chairs=null"),
    ("settings words", "settings words=null"),
    ("settings thresholds", 'settings thresholds={"gone": 3, "redness_minutes": 900, "stack_call_ply": 4.5}'),
    (
        "settings thresholds of no kind",
        'settings thresholds={"redness_minutes": "x", "comfort_drop": true, "thick_ply": null}',
    ),
    ("no settings", "UPDATE clinic SET settings = '{}'"),
    ("sock", "UPDATE socket SET note = char(0) || 'x'"),
    ("phone's words", "UPDATE device SET label = '' "),
    ("person", "UPDATE person SET name = ' '"),
]


@pytest.mark.parametrize(("what", "change"), OLD, ids=[what for what, _ in OLD])
def test_what_an_older_version_kept_breaks_no_page(unhurried: World, what: str, change: str) -> None:
    world = unhurried
    settings = world.app.config["SETTINGS"]
    registry = Registry(settings.data_dir)
    whose = registry.whose_login("nora")
    assert whose is not None
    path = clinic_path(settings.data_dir, str(registry.clinic_file(whose[0])))
    registry.close()
    db = connect(path)
    before = db.conn.execute("SELECT settings FROM clinic").fetchone()[0]
    try:
        if change.startswith("settings "):
            name, _, value = change.removeprefix("settings ").partition("=")
            try:
                value = json.loads(value)
            except ValueError:
                pass
            db.conn.execute("UPDATE clinic SET settings = ?", (json.dumps({**json.loads(before), name: value}),))
        else:
            for one in change.split("; "):
                db.conn.execute(one)
        db.conn.execute("INSERT OR IGNORE INTO stale SELECT id, '2025-01-01T00:00:00+00:00' FROM limb")
        assert broken_pages(world, SOME) == []
    finally:
        db.conn.execute("UPDATE clinic SET settings = ?", (before,))
        db.close()
