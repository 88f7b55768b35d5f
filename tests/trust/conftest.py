"""A world of its own for the tests of trust: the cast, with one of everything belonging to Anouk."""

from __future__ import annotations

import itertools
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from tests.actors import PASSWORD, Actor, Cast, Clock
from tests.conftest import NOON, TODAY, bearing, signed_in
from tests.http.test_photos import jpeg

LETTER = {"kind": "physician", "to": "Dr Ilse Wren", "subject": "Anouk", "text": "Of Anouk, as of 15 September 2025."}
LETTERS = itertools.count()
MAKING = {
    "made": "direct", "on": TODAY.isoformat(), "purpose": "diagnostic", "despite": {"reason": "One more begun."},
}  # fmt: skip
STOCK_FILE = {"name": "stock.csv", "how": "add", "csv": "kind,name,on_hand\nliner,Cushion,1\n"}


@dataclass
class World:
    """The cast, what of Anouk's an address may name, and callers who are no longer let in."""

    cast: Cast
    app: Flask
    fixed: dict[str, str]
    fresh: dict[str, Callable[[], str]]
    callers: dict[str, Actor] = field(default_factory=dict)

    def name(self, argument: str) -> str:
        """The id an address argument stands for; a new one each time where the call uses it up."""
        return self.fresh[argument]() if argument in self.fresh else self.fixed[argument]


def another_phone(cast: Cast, person_id: str) -> tuple[str, str]:
    """(token, device id) of one more phone."""
    code = cast.ida.made(f"/api/clinic/people/{person_id}/enrolment-codes", {"role": "wearer"})["code"]
    joined = cast.nobody.made("/api/enrol", {"code": code, "label": "One more phone"})
    return joined["token"], joined["device_id"]


def moved_cast(night: Cast, app: Flask, clock: Clock) -> Cast:
    """The cast of `night`, calling another app over a copy of the files."""

    def one(who: Any) -> Any:
        return replace(who, app=app) if isinstance(who, Actor) else replace(who, phone=replace(who.phone, app=app))

    names = ("nora", "ida", "juno", "anouk", "bram", "dov", "teodor", "esme", "nobody")
    return Cast(app=app, clock=clock, **{name: one(getattr(night, name)) for name in names})


def copied(night: Cast, data: Path, clock: Clock) -> Cast:
    from plytide.http.app import create_app

    made = night.app.config["SETTINGS"]
    shutil.copytree(made.data_dir, data)
    return moved_cast(night, create_app(replace(made, data_dir=data, now=clock)), clock)


@pytest.fixture(scope="module")
def world(first_night: Cast, tmp_path_factory: pytest.TempPathFactory) -> World:
    cast = copied(first_night, tmp_path_factory.mktemp("world") / "data", Clock(NOON))
    anouk, ida = cast.anouk, cast.ida
    log = anouk.checkin(TODAY, skin=[{"place": "fibula head", "finding": "open_skin"}], skin_checked=True)
    assert anouk.sync(log).status_code == 200
    ida.get("/api/clinic/worklist")
    where = {"limb_id": anouk.limb_id, "checkin_id": log["id"]}
    kept = anouk.phone.call("PUT", "/api/photos/p1", data=jpeg(), content_type="image/jpeg", query_string=where)
    assert kept.status_code == 201
    story = ida.get(f"/api/clinic/limbs/{anouk.limb_id}").get_json()

    def decision() -> str:
        told = {"on": TODAY.isoformat(), "choice": "wait"}
        return str(ida.made(f"/api/clinic/limbs/{anouk.limb_id}/decisions", told)["id"])

    def signal() -> str:
        signal_id = str(story["signals"][0]["id"])
        ida.made(f"/api/clinic/signals/{signal_id}/acknowledge", {})  # so that there is something to undo
        return signal_id

    logins = itertools.count()

    def member() -> str:
        wanted = {"login": f"w{next(logins)}", "name": "Wout", "role": "assistant", "password": PASSWORD}
        return str(cast.nora.made("/api/clinic/staff", wanted)["id"])

    limb, day = f"/api/clinic/limbs/{anouk.limb_id}", TODAY.isoformat()

    def deed() -> str:
        return str(ida.made(f"{limb}/interventions", {"on": day, "kind": "Reline"})["id"])

    def voided() -> str:
        deed_id = deed()
        ida.made(f"/api/clinic/records/{deed_id}/void", {"reason": "Another person's."})
        return deed_id

    def tape() -> str:
        levels = [{"from_end_mm": 0, "circumference_mm": 240}]
        return str(ida.made(f"{limb}/measurements", {"on": day, "levels": levels})["id"])

    def pad() -> str:
        socket_id = story["sockets"][0]["id"]
        return str(ida.made(f"/api/clinic/sockets/{socket_id}/pads", {"on": day, "thickness_mm": 2})["id"])

    def written() -> str:
        told = {"kind": "words", "text": "Anouk, bring your socks."}
        return str(ida.made(f"/api/clinic/people/{anouk.id}/messages", told)["id"])

    def answered() -> str:
        message_id = written()
        said = {
            "id": f"a-{message_id}",
            "message_id": message_id,
            "person_id": anouk.id,
            "event": "answer",
            "text": "Yes",
        }
        body = {"schema": 1, "answers": [said | {"said_at": f"{day}T12:00:00Z"}]}
        assert anouk.phone.post("/api/sync", body).get_json()["answer_receipts"][0]["status"] == "kept"
        return message_id

    def part() -> str:
        return str(ida.made(f"{limb}/parts", {"what": "Liner", "ends_on": "2027-01-31"})["id"])

    def feed() -> str:
        return str(cast.nora.made("/api/clinic/calendar-feeds", {"label": "Desk"})["id"])

    def sent() -> str:
        return str(ida.made(f"{limb}/letters", LETTER | {"id": f"l-{next(LETTERS)}"})["id"])

    def caseload() -> str:
        made = ida.made("/api/clinic/caseloads", {"name": "people.csv", "kind": "csv", "size": 5})["id"]
        ida.put(f"/api/clinic/caseloads/{made}/parts/0", {"content": "TmFtZQo="})
        return str(made)

    def item() -> str:
        return str(ida.made("/api/clinic/stock/items", {"kind": "liner", "name": "Cushion"})["id"])

    def stock_file() -> str:
        return str(ida.made("/api/clinic/stock/imports", STOCK_FILE | {"id": f"i-{next(LETTERS)}"})["id"])

    def making() -> str:
        return str(ida.made(f"{limb}/makings", MAKING | {"id": f"mk-{next(LETTERS)}"})["id"])

    def voided_making() -> str:
        made = making()
        ida.made(f"/api/clinic/makings/{made}/void", {"id": f"v-{made}", "reason": "Another person's."})
        return made

    def use() -> str:
        taken = {"id": f"u-{next(LETTERS)}", "item_id": item(), "count": 1, "despite": {"reason": "On the table."}}
        ida.made(f"/api/clinic/makings/{making()}/items", taken)
        return str(taken["id"])

    def healing() -> str:
        told = {"place": "fibula head", "what": "size", "on": day, "length_mm": 8}
        return str(ida.made(f"{limb}/healing", told)["id"])

    def outcome_measure() -> str:
        return str(ida.made(f"{limb}/outcome-measures", {"kind": "comfort", "on": day, "value": 7})["id"])

    def component() -> str:
        socket_id = story["sockets"][0]["id"]
        told = {"what": "Lock", "fitted_on": day}
        return str(ida.made(f"/api/clinic/sockets/{socket_id}/components", told)["id"])

    visit = ida.made(f"/api/clinic/people/{anouk.id}/visits", {"on": "2025-10-01", "what": "Review"})
    made = World(
        cast,
        cast.app,
        fixed={
            "person_id": anouk.id,
            "limb_id": anouk.limb_id,
            "socket_id": story["sockets"][0]["id"],
            "visit_id": visit["id"],
            "action": "acknowledge",
            "part": "0",
            "photo_id": "p1",
            "passkey_id": "none",
            "session_id": "none",
            "secret": "nobodys",
            "kind": "physician",
            "made": "direct",
            "folder": "shared",
            "name": "tokens.css",
        },
        fresh={
            "device_id": lambda: another_phone(cast, anouk.id)[1],
            "decision_id": decision,
            "signal_id": signal,
            "healing_id": healing,
            "outcome_measure_id": outcome_measure,
            "staff_id": member,
            "record_id": deed,
            "voided_id": voided,
            "intervention_id": deed,
            "measurement_id": tape,
            "pad_id": pad,
            "feed_id": feed,
            "part_id": part,
            "letter_id": sent,
            "caseload_id": caseload,
            "item_id": item,
            "import_id": stock_file,
            "making_id": making,
            "voided_making_id": voided_making,
            "use_id": use,
            "component_id": component,
            "message_id": written,
            "answered_id": answered,
        },
    )
    token, device_id = another_phone(cast, anouk.id)
    assert ida.delete(f"/api/clinic/devices/{device_id}").status_code == 200
    gone = signed_in(cast.app, "ida")
    assert gone.delete("/api/clinic/session").status_code == 200
    made.callers = {
        "nobody": cast.nobody,
        "own phone": anouk.phone,
        "other clinic's phone": cast.esme.phone,
        "caregiver's phone": cast.bram.phone,
        "revoked phone": bearing(cast.app, token),
        "signed out": gone,
        "assistant": cast.juno,
        "prosthetist": ida,
        "manager": cast.nora,
        "other clinic's manager": cast.teodor,
    }
    return made
