"""Every route × every caller: who gets what. A route that has no row here fails.

OWASP ASVS 5.0, 8.2.1 to 8.2.3 and 8.4.1: access by function, by object and across tenants.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest

from plytide.engine.rules import current_mark
from plytide.http.openapi import describe
from tests.actors import PASSWORD, Actor
from tests.conftest import SOCKET, TODAY, signed_in
from tests.trust.conftest import LETTER, LETTERS, MAKING, STOCK_FILE, World

DAY = TODAY.isoformat()
PHONES = ("own phone", "caregiver's phone", "other clinic's phone")
OUT = ("nobody", "revoked phone", "signed out")
ROLES = ("assistant", "prosthetist", "manager")

Body = Any | Callable[[World], Any]


@dataclass(frozen=True)
class Row:
    """Who may: for phones "phone", for staff the roles. `done` is the status of a call that is let in."""

    door: str
    body: Body = None
    done: int = 200
    roles: tuple[str, ...] = ROLES
    foreign: int = 404  # what another clinic's manager gets; 200 or 201 where the call only reaches the own clinic
    query: str = ""
    strange: int | None = None  # what phones of other people get, where the call names Anouk or what is hers


def staff(body: Body = None, **said: Any) -> Row:
    return Row("clinic", body, **said)


def everyones(**said: Any) -> Row:
    """Shell files and the two doors: nobody is asked who they are."""
    return Row("open", **said)


def agreed(world: World) -> Any:
    return {"person_id": world.name("person_id"), "words": "photos 1", "agreed": True, "said_at": f"{DAY}T12:00:00Z"}


def new_member(world: World) -> Any:
    world.cast.clock.forward(seconds=1)
    login = f"new-{world.cast.clock.now:%M%S}"
    return {"login": login, "name": "New", "role": "assistant", "password": PASSWORD}


def a_letter(world: World) -> Any:
    return LETTER | {"id": f"l-{next(LETTERS)}"}


def a_delivery(world: World) -> Any:
    return {"id": f"m-{next(LETTERS)}", "deed": "received", "count": 1}


def a_stock_file(world: World) -> Any:
    return STOCK_FILE | {"id": f"i-{next(LETTERS)}"}


def fresh(world: World, **body: Any) -> Any:
    return {"id": f"x-{next(LETTERS)}", **body}


def a_making(world: World) -> Any:
    return fresh(world, **MAKING)


def a_plan(world: World) -> Any:
    return fresh(world, purpose="definitive", suspension=None)


def a_step(world: World) -> Any:
    return fresh(world, step="tape", state="done")


def an_end(world: World) -> Any:
    return fresh(world, socket={"fitted_on": DAY}, open_seen=True, despite=DESPITE)


def a_mistake(world: World) -> Any:
    return fresh(world, reason="Another person's.")


def a_mistake_less(world: World) -> Any:
    return fresh(world)


def a_liner(world: World) -> Any:
    return fresh(world, item_id=world.name("item_id"), count=1, despite=DESPITE)


def to_a_colleague(world: World) -> Any:
    return {"to": world.name("staff_id")}


DEED = {"on": DAY, "kind": "reline"}
TAPE = {"on": DAY, "levels": [{"from_end_mm": 0, "circumference_mm": 240}]}
PAPER = {"given": True, "on": DAY, "by": "Anouk", "what_for": "Photos for teaching"}
AGREED = {"physician": "Dr Ilse Wren", "sha256": current_mark()}
DESPITE = {"reason": "Her skin was seen today."}  # open skin stands against it
FILE = {"name": "people.csv", "kind": "csv", "size": 5}
DECIDERS = ("prosthetist", "manager")

TABLE: dict[str, Row] = {
    "GET /": everyones(),
    "GET /phone": everyones(done=308),
    "GET /clinic": everyones(done=308),
    "GET /phone/sw.js": everyones(),
    "GET /<any(phone, clinic, shared, vendor):folder>/": everyones(done=404),  # of `shared`: it has no page of its own
    "GET /<any(phone, clinic, shared, vendor):folder>/<path:name>": everyones(),
    "GET /api/openapi.json": everyones(),
    "POST /api/enrol": everyones(body={"code": "NOT-A-CODE"}, done=422),
    "GET /api/me": Row("phone"),
    "POST /api/consents": Row("phone", agreed, done=201, strange=404),
    "GET /api/push": Row("phone"),
    "PUT /api/push": Row("phone", {}, done=422),  # an empty wish is refused by field; a phone reaches only its own
    "DELETE /api/push": Row("phone"),
    "POST /api/push/pause": Row("phone", {}, done=422),
    # Of one's own limb it goes on to the picture, which here is none.
    "PUT /api/photos/<photo_id>": Row("phone", {}, done=422, strange=404, query="?limb_id=LIMB&checkin_id=x"),
    "GET /api/photos/<photo_id>": Row("phone", strange=404),
    "POST /api/sync": Row("phone", {"schema": 1, "cursor": None, "checkins": []}),
    "POST /api/clinic/session": everyones(body={"login": "ida", "password": PASSWORD}),
    "GET /api/clinic/session": staff(foreign=200),
    "DELETE /api/clinic/session": staff(foreign=200),
    "GET /api/clinic/limbs/<limb_id>/photos": staff(),
    "GET /api/clinic/photos/<photo_id>": staff(),
    "GET /api/clinic/people/<person_id>/consents": staff(),
    "POST /api/clinic/people/<person_id>/phone-file": staff({"plytide_export": 1, "checkins": []}),
    "GET /healthz": everyones(),
    "GET /readyz": everyones(),
    "GET /metrics": everyones(),  # open to this machine only: a test of its own
    "GET /api/clinic/audit": staff(roles=("manager",), foreign=200),
    "GET /api/clinic/limbs/<limb_id>/bundle.fhir.json": staff(),
    "GET /api/clinic/limbs/<limb_id>/checkins.csv": staff(),
    "GET /api/clinic/people/<person_id>/export.json": staff(roles=DECIDERS),
    "GET /api/clinic/people/<person_id>/export.html": staff(roles=DECIDERS),
    "GET /api/clinic/people/<person_id>/erasure": staff(),
    "POST /api/clinic/people/<person_id>/erasure": staff({"reason": "Moved away."}, done=201, roles=DECIDERS),
    "DELETE /api/clinic/people/<person_id>/erasure": staff(roles=DECIDERS),
    "POST /api/clinic/people/<person_id>/erasure/confirm": staff({"name": "x"}, done=409, roles=("manager",)),
    "GET /api/clinic/staff": staff(foreign=200),
    "POST /api/clinic/session/passkey-options": everyones(),
    "POST /api/clinic/session/passkey": everyones(body={"challenge_id": "x", "credential": {}}, done=401),
    "POST /api/clinic/password-by-code": everyones(body={"code": "x", "new_password": PASSWORD}, done=422),
    "POST /api/clinic/password-mail": everyones(body={"login": "ida"}, done=409),  # this world has no mail server
    "GET /api/clinic/mail": staff(foreign=200),
    "PUT /api/clinic/mail": staff({"password": PASSWORD, "mail": None}, foreign=200),
    "POST /api/clinic/staff/<staff_id>/password-code": staff({}, done=201, roles=("manager",)),
    "GET /api/clinic/second-factor": staff(foreign=200),
    "POST /api/clinic/second-factor/app": staff({"password": PASSWORD}, done=201, foreign=201),
    "POST /api/clinic/second-factor/app/confirm": staff({"code": "no code"}, done=422, foreign=422),
    "POST /api/clinic/second-factor/app/remove": staff({"password": PASSWORD}, foreign=200),
    "POST /api/clinic/second-factor/recovery": staff({"password": PASSWORD}, foreign=200),
    "POST /api/clinic/passkeys/options": staff({"password": PASSWORD}, foreign=200),
    "POST /api/clinic/passkeys": staff({"challenge_id": "x", "credential": {}}, done=422, foreign=422),
    "POST /api/clinic/passkeys/<passkey_id>/remove": staff(
        {"password": PASSWORD}, done=404
    ),  # one's own only, and nobody here has one
    "GET /api/clinic/sessions": staff(foreign=200),
    "DELETE /api/clinic/sessions/<session_id>": staff(done=404),  # as above: this id is nobody's
    "POST /api/clinic/sessions/end-others": staff({}, foreign=200),
    "PUT /api/clinic/password": staff({"password": PASSWORD, "new_password": PASSWORD}, foreign=200),
    "POST /api/clinic/staff": staff(new_member, done=201, roles=("manager",), foreign=201),
    "DELETE /api/clinic/staff/<staff_id>": staff(roles=("manager",)),
    "POST /api/clinic/staff/<staff_id>/hand-over": staff(to_a_colleague, roles=DECIDERS),
    "DELETE /api/clinic/staff/<staff_id>/second-factor": staff(roles=("manager",)),
    "GET /api/clinic/worklist": staff(foreign=200),
    "GET /api/clinic/chair-time": staff(foreign=200),
    "GET /api/clinic/own-record": staff(foreign=200),
    "GET /api/clinic/own-record.csv": staff(foreign=200),
    "GET /api/clinic/stock": staff(foreign=200),
    "GET /api/clinic/making-lists": staff(foreign=200),
    "PUT /api/clinic/making-lists/<made>": staff({"steps": None}, roles=DECIDERS, foreign=200),
    "POST /api/clinic/limbs/<limb_id>/makings": staff(a_making, done=201),
    "GET /api/clinic/limbs/<limb_id>/makings": staff(),
    "GET /api/clinic/makings/<making_id>": staff(),
    "POST /api/clinic/makings/<making_id>/plan": staff(a_plan),
    "POST /api/clinic/makings/<making_id>/steps": staff(a_step),
    "POST /api/clinic/makings/<making_id>/finish": staff(an_end),
    "POST /api/clinic/makings/<making_id>/void": staff(a_mistake),
    "POST /api/clinic/makings/<voided_making_id>/restore": staff(a_mistake_less),
    "POST /api/clinic/makings/<making_id>/items": staff(a_liner),
    "POST /api/clinic/stock-uses/<use_id>/give-back": staff(),
    "POST /api/clinic/sockets/<socket_id>/components": staff({"what": "Lock", "fitted_on": DAY}, done=201),
    "POST /api/clinic/components/<component_id>/retire": staff({"on": DAY}),
    "GET /api/clinic/stock/items": staff(foreign=200),
    "POST /api/clinic/stock/items": staff({"kind": "liner", "name": "Cushion"}, done=201, foreign=201),
    "PATCH /api/clinic/stock/items/<item_id>": staff({"size": "24"}),
    "GET /api/clinic/stock/items/<item_id>/movements": staff(),
    "POST /api/clinic/stock/items/<item_id>/movements": staff(a_delivery, done=201),
    "GET /api/clinic/stock/need": staff(foreign=200),
    "GET /api/clinic/stock/stock.csv": staff(foreign=200),
    "GET /api/clinic/stock/ledger.csv": staff(foreign=200),
    "GET /api/clinic/stock/order.csv": staff(foreign=200),
    "GET /api/clinic/stock/imports": staff(foreign=200),
    "POST /api/clinic/stock/imports": staff(a_stock_file, done=201, roles=DECIDERS, foreign=201),
    "POST /api/clinic/stock/imports/<import_id>/undo": staff(roles=DECIDERS),
    "GET /api/clinic/settings": staff(foreign=200),
    "GET /api/clinic/safety-rules": staff(foreign=200),
    "POST /api/clinic/safety-rules/agreements": staff(AGREED, done=201, roles=DECIDERS, foreign=201),
    "PATCH /api/clinic/settings": staff({"phone": "01 555 0100"}, roles=DECIDERS, foreign=200),
    "GET /api/clinic/caseloads": staff(roles=DECIDERS, foreign=200),
    "POST /api/clinic/caseloads": staff(FILE, done=201, roles=DECIDERS, foreign=201),
    "PUT /api/clinic/caseloads/<caseload_id>/parts/<part>": staff({"content": "TmFtZQo="}, roles=DECIDERS),
    "GET /api/clinic/caseloads/<caseload_id>": staff(roles=DECIDERS),
    "PUT /api/clinic/caseloads/<caseload_id>/choices": staff({"date_order": "dmy"}, roles=DECIDERS),
    "GET /api/clinic/caseloads/<caseload_id>/rows": staff(roles=DECIDERS, done=422),  # no column is matched yet
    "POST /api/clinic/caseloads/<caseload_id>/bring": staff({"done_to": 0}, done=422, roles=DECIDERS),
    "POST /api/clinic/caseloads/<caseload_id>/undo": staff({}, roles=DECIDERS),
    "POST /api/clinic/caseloads/<caseload_id>/letters": staff({}, done=201, roles=DECIDERS),
    "GET /api/clinic/people": staff(foreign=200),
    "POST /api/clinic/people/search": staff({"q": "Ano"}, foreign=200),
    "POST /api/clinic/worklist/search": staff({"q": "Ano"}, foreign=200),
    "POST /api/clinic/people": staff({"name": "Wim"}, done=201, foreign=201),
    "GET /api/clinic/people/<person_id>": staff(),
    "PATCH /api/clinic/people/<person_id>": staff({"name": "Anouk"}),
    "GET /api/clinic/people/<person_id>/devices": staff(),
    "POST /api/clinic/people/<person_id>/enrolment-codes": staff({"role": "wearer"}, done=201),
    "POST /api/clinic/people/<person_id>/limbs": staff({"side": "right", "level": "transfemoral"}, done=201),
    "POST /api/clinic/people/<person_id>/visits": staff({"on": "2025-10-02"}, done=201),
    "PATCH /api/clinic/visits/<visit_id>": staff({"what": "Review"}),
    "GET /api/clinic/visits/<visit_id>": staff(),
    "GET /api/clinic/visits": staff(foreign=200),
    "POST /api/clinic/people/<person_id>/contacts": staff({"result": "reached"}, done=201),
    "POST /api/clinic/people/<person_id>/messages": staff({"kind": "read"}, done=201),
    "DELETE /api/clinic/messages/<message_id>": staff(),
    "POST /api/clinic/messages/<answered_id>/read": staff(),
    "POST /api/clinic/limbs/<limb_id>/parts": staff({"what": "Knee", "ends_on": "2027-01-31"}, done=201),
    "DELETE /api/clinic/parts/<part_id>": staff(),
    "GET /api/clinic/calendar-feeds": staff(foreign=200),
    "POST /api/clinic/calendar-feeds": staff({"label": "Desk"}, done=201, roles=DECIDERS, foreign=201),
    "DELETE /api/clinic/calendar-feeds/<feed_id>": staff(roles=DECIDERS),
    "GET /api/calendar/<secret>.ics": everyones(done=404),  # this one is nobody's; real ones: a test of their own
    "GET /api/clinic/letter-templates": staff(foreign=200),
    "PUT /api/clinic/letter-templates/<kind>": staff({"text": "Of {person}."}, roles=DECIDERS, foreign=200),
    "GET /api/clinic/limbs/<limb_id>/letter-draft": staff(),
    "POST /api/clinic/limbs/<limb_id>/letters": staff(a_letter, done=201, roles=DECIDERS),
    "GET /api/clinic/limbs/<limb_id>/letters": staff(),
    "GET /api/clinic/letters/<letter_id>": staff(),
    "GET /api/clinic/letters/<letter_id>/letter.pdf": staff(),
    "DELETE /api/clinic/devices/<device_id>": staff(),
    "GET /api/clinic/limbs/<limb_id>": staff(),
    "PATCH /api/clinic/limbs/<limb_id>": staff({"shape": "conical"}),
    "GET /api/clinic/limbs/<limb_id>/assessment": staff(),
    "GET /api/clinic/limbs/<limb_id>/growth": staff(),
    "GET /api/clinic/limbs/<limb_id>/plan": staff(),
    "GET /api/clinic/limbs/<limb_id>/visit-page": staff(),
    "GET /api/clinic/limbs/<limb_id>/visit-page.pdf": staff(),
    "GET /api/clinic/limbs/<limb_id>/payer-page": staff(),
    "GET /api/clinic/limbs/<limb_id>/payer-page.pdf": staff(),
    "POST /api/clinic/limbs/<limb_id>/decisions": staff({"on": DAY, "choice": "wait"}, done=201, roles=DECIDERS),
    "DELETE /api/clinic/decisions/<decision_id>": staff(roles=DECIDERS),
    "POST /api/clinic/limbs/<limb_id>/interventions": staff(DEED, done=201),
    "POST /api/clinic/limbs/<limb_id>/measurements": staff(TAPE, done=201),
    "POST /api/clinic/interventions/<intervention_id>/correction": staff(DEED, done=201),
    "POST /api/clinic/measurements/<measurement_id>/correction": staff(TAPE, done=201),
    "POST /api/clinic/pads/<pad_id>/correction": staff({"on": DAY, "thickness_mm": 2}, done=201),
    "POST /api/clinic/records/<record_id>/void": staff({"reason": "Another person's."}),
    "POST /api/clinic/records/<voided_id>/restore": staff(),
    "POST /api/clinic/people/<person_id>/consents": staff(PAPER, done=201),
    "POST /api/clinic/limbs/<limb_id>/healing": staff(
        {"place": "fibula head", "what": "size", "on": DAY, "length_mm": 8}, done=201
    ),
    "DELETE /api/clinic/healing/<healing_id>": staff(),
    "POST /api/clinic/limbs/<limb_id>/outcome-measures": staff(
        {"kind": "up_and_go", "on": DAY, "value": 14.5}, done=201
    ),
    "DELETE /api/clinic/outcome-measures/<outcome_measure_id>": staff(),
    "PATCH /api/clinic/limbs/<limb_id>/pocket": staff({"care": "Wash the liner each night."}),
    "DELETE /api/clinic/limbs/<limb_id>/pocket": staff(),
    "POST /api/clinic/limbs/<limb_id>/notes": staff({"text": "Comes by bus."}, done=201),
    "POST /api/clinic/limbs/<limb_id>/sockets": staff({**SOCKET, "despite": DESPITE}, done=201),
    "PATCH /api/clinic/sockets/<socket_id>": staff({"note": "Trimmed."}),
    "POST /api/clinic/sockets/<socket_id>/pads": staff({"on": DAY, "thickness_mm": 2}, done=201),
    "POST /api/clinic/sockets/<socket_id>/suspensions": staff(
        {"on": DAY, "suspension": "suction", "despite": DESPITE}, done=201
    ),
    "POST /api/clinic/signals/<signal_id>/<any(acknowledge, assign, snooze, close, reopen):action>": staff({}),
    "POST /api/clinic/signals/<signal_id>/undo": staff(),
}


def routes(world: World) -> Iterator[tuple[str, str]]:
    for rule in world.app.url_map.iter_rules():
        for method in sorted((rule.methods or set()) - {"HEAD", "OPTIONS"}):
            yield method, str(rule)


def address(world: World, rule: str) -> str:
    return re.sub(r"<(?:any\([^)]*\):|\w+:)?(\w+)>", lambda found: world.name(found[1]), rule)


def expected(row: Row, caller: str) -> int:
    if row.door == "open":
        return row.done
    if caller in OUT:
        return 401
    if row.door == "phone":
        own = caller == "own phone" or row.strange is None
        return (row.done if own else row.strange or 0) if caller in PHONES else 403
    if caller in PHONES:
        return 403
    if caller in ROLES:
        return row.done if caller in row.roles else 403
    return row.foreign


def call(world: World, actor: Actor, route: str, row: Row, **options: Any) -> Any:
    method, rule = route.split(" ", 1)
    body = row.body(world) if callable(row.body) else row.body
    return actor.call(method, address(world, rule) + row.query.replace("LIMB", world.name("limb_id")), body, **options)


def own_session(world: World, caller: str, actor: Actor, route: str) -> Actor:
    """Who signs out in this test signs in for it first, so that the others' sessions go on."""
    logins = {"assistant": "juno", "prosthetist": "ida", "manager": "nora", "other clinic's manager": "teodor"}
    ends = route in ENDS_SESSIONS and caller in logins
    return signed_in(world.app, logins[caller]) if ends else actor


ENDS_SESSIONS = {"DELETE /api/clinic/session"}


def test_every_route_has_a_row_and_every_row_a_route(world: World) -> None:
    assert {f"{method} {rule}" for method, rule in routes(world)} == set(TABLE)


@pytest.mark.parametrize("route", TABLE)
def test_each_caller_gets_what_the_table_says(world: World, route: str) -> None:
    row, said, told = TABLE[route], {}, {}
    for caller, actor in world.callers.items():
        answer = call(world, own_session(world, caller, actor, route), route, row)
        said[caller], told[caller] = answer.status_code, answer.get_data().decode(errors="replace")
        answer.close()
        if answer.status_code >= 400:
            assert set(answer.get_json()["error"]) == {"code", "message", "fields"}, caller
    world.cast.clock.forward(seconds=2)  # ten wrong codes in a row make the eleventh caller wait
    assert said == {caller: expected(row, caller) for caller in world.callers}
    if row.door == "clinic":
        ours = (world.cast.anouk.id, world.cast.anouk.limb_id, "Anouk")
        strangers = {caller for caller in told if caller not in ROLES}
        assert [(caller, name) for caller in strangers for name in ours if name in told[caller]] == []


@pytest.mark.parametrize(
    "route", [route for route, row in TABLE.items() if row.door == "clinic" and route[:3] != "GET"]
)
def test_each_write_of_staff_needs_its_csrf_token_and_its_own_site(world: World, route: str) -> None:
    cookie_only = Actor(world.app, {"Cookie": world.cast.nora.headers["Cookie"]})
    assert call(world, cookie_only, route, TABLE[route]).status_code == 403
    for site in ("cross-site", "same-site"):
        elsewhere = {"Sec-Fetch-Site": site}
        assert call(world, world.cast.nora, route, TABLE[route], headers=elsewhere).status_code == 403


@pytest.mark.parametrize("route", [route for route, row in TABLE.items() if row.door == "phone"])
def test_a_cookie_never_opens_a_phones_door_nor_a_token_the_clinics(world: World, route: str) -> None:
    both = {**world.cast.nora.headers, "Authorization": "Bearer nonsense"}
    assert call(world, Actor(world.app, both), route, TABLE[route]).status_code == 401


def test_a_phone_reads_and_writes_for_its_own_people_only(world: World) -> None:
    anouk, bram, esme = world.cast.anouk, world.cast.bram, world.cast.esme
    for writer in (bram, esme):
        receipt = writer.sync(anouk.checkin(TODAY)).get_json()["receipts"][0]
        assert (receipt["status"], list(receipt["errors"])) == ("refused", ["limb_id"])
        told = writer.sync().get_data(as_text=True) + writer.phone.get("/api/me").get_data(as_text=True)
        assert anouk.id not in told and anouk.limb_id not in told and "Anouk" not in told


def test_the_description_says_how_each_call_that_is_let_in_is_answered(world: World) -> None:
    described = describe(world.app)["paths"]
    for route, row in TABLE.items():
        method, rule = route.split(" ", 1)
        if rule.startswith("/api/") and row.done < 400:
            path = re.sub(r"<any\((\w+)[^>]*>", r"\1", rule)
            said = described[re.sub(r"<(\w+)>", r"{\1}", path)][method.lower()]["responses"]
            assert str(row.done) in said, route


def test_a_row_that_is_wrong_is_found(world: World) -> None:
    """The table is held against the app, not against itself."""
    row = TABLE["POST /api/clinic/limbs/<limb_id>/decisions"]
    answer = call(world, world.cast.juno, "POST /api/clinic/limbs/<limb_id>/decisions", row)
    assert answer.status_code == 403 != row.done
