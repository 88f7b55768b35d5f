"""What a clinic's own limbs taught: kept with its date, shown, turned off at will, and never another clinic's."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from sqlite_utils import Database

from plytide.engine.core.population import Population, parts_of, population_of
from plytide.engine.volume import BANK
from plytide.engine.volume import learning as engine
from plytide.settings import Settings
from plytide.storage import clinics
from plytide.storage.clinics import open_clinic
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import write
from plytide.work import background, learning
from tests.actors import Cast, Clock, Wearer, checkin
from tests.conftest import signed_in

SHIPPED, PARTS = population_of(BANK), parts_of(BANK)
#: Where nearly everybody settles within weeks.
QUICK = Population(
    tuple(
        0.9 if tau == 12.0 else 0.02 if kind == 2 else 1.0
        for (_, tau), kind in zip(PARTS.laws, PARTS.kind, strict=True)
    ),
    SHIPPED.wobbles,
)


@pytest.fixture
def at_clinic(settings: Settings) -> Callable[[str, Callable[[Database], Any]], Any]:
    def work(login: str, deed: Callable[[Database], Any]) -> Any:
        registry = Registry(settings.data_dir)
        try:
            whose = registry.whose_login(login)
            assert whose is not None
            db = open_clinic(settings.data_dir, registry, whose[0])
            try:
                return deed(db)
            finally:
                db.close()
        finally:
            registry.close()

    return work


@pytest.fixture(autouse=True)
def fresh(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learning, "_looked", {})


def log(who: Wearer, first: date, days: int, pace: int = 14) -> None:
    """A limb that shrinks at first and then stays: a sock more every `pace` days, three times."""
    for limb_id in who.limb_ids:
        socks = [{"ply": (1, 2, 3, 5)[min(n // pace, 3)], "make": "single"} for n in range(days)]
        entries = [checkin(limb_id, first + timedelta(days=n), stack=[sock]) for n, sock in enumerate(socks)]
        for at in range(0, len(entries), 50):
            answer = who.sync(*entries[at : at + 50])
            assert {one["status"] for one in answer.get_json()["receipts"]} == {"kept"}


def coming(cast: Cast, who: Wearer, as_of: date | None = None) -> Any:
    query = {"as_of": as_of.isoformat()} if as_of else {}
    path = f"/api/clinic/limbs/{who.limb_id}/assessment"
    return signed_in(cast.app, "ida").get(path, query_string=query).get_json()["volume"]["coming_28d_pct"]


def shown(cast: Cast, login: str = "ida") -> Any:
    return signed_in(cast.app, login).get("/api/clinic/settings").get_json()


def test_it_is_learnt_from_its_own_limbs_once_they_are_enough_and_again_after_four_weeks(
    cast: Cast, settings: Settings, today: date, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    for who, pace in ((cast.anouk, 14), (cast.bram, 9), (cast.dov, 5)):
        log(who, today - timedelta(days=70), 70, pace)
    background.sweep(settings)
    assert shown(cast)["learnt"] is None  # four limbs are not a hundred
    for module in (engine, learning):
        monkeypatch.setattr(module, "LEAST_LIMBS", 4)
    clock.forward(days=1)
    background.sweep(settings)
    learnt = shown(cast)["learnt"]
    assert (learnt["on"], learnt["limbs"]) == ((today + timedelta(days=1)).isoformat(), 4)
    for rows in (learnt["settling"], learnt["wobble"]):
        for column in ("here", "elsewhere"):
            assert sum(one[column] for one in rows) == pytest.approx(1)
        assert any(abs(one["here"] - one["elsewhere"]) > 0.002 for one in rows)
    assert shown(cast, "teodor")["learnt"] is None  # another clinic's
    lines = signed_in(cast.app, "nora").get("/api/clinic/audit").get_json()["lines"]
    assert [(one["who"], one["detail"]) for one in lines if one["what"] == "settings.learn"] == [("server", "4 limbs")]
    for days, again in ((26, False), (3, True)):
        clock.forward(days=days)
        background.sweep(settings)
        assert (shown(cast)["learnt"]["on"] != learnt["on"]) is again


def test_what_was_said_before_it_was_learnt_stays_as_it_was_said(
    cast: Cast, today: date, clock: Clock, at_clinic: Callable[..., Any]
) -> None:
    log(cast.anouk, today - timedelta(days=40), 40)
    before = coming(cast, cast.anouk)
    clock.forward(days=1)
    at_clinic("ida", lambda db: learning.keep(db, 120, QUICK, clock()))
    after = coming(cast, cast.anouk)
    assert after["value"] > before["value"] + 0.05  # nearer to nothing: it settles soon where everybody does
    assert coming(cast, cast.anouk, today) == before
    answer = signed_in(cast.app, "ida").patch("/api/clinic/settings", {"learn_from_own_limbs": False})
    assert (answer.status_code, answer.get_json()["learn_from_own_limbs"]) == (200, False)
    off = coming(cast, cast.anouk)
    assert off["value"] < after["value"] - 0.05
    assert answer.get_json()["learnt"]["limbs"] == 120  # still shown
    clock.forward(days=1)
    signed_in(cast.app, "ida").patch("/api/clinic/settings", {"learn_from_own_limbs": True})
    assert coming(cast, cast.anouk)["value"] > off["value"] + 0.05


def test_the_kept_reading_and_one_made_anew_are_the_same(
    cast: Cast, settings: Settings, today: date, clock: Clock, at_clinic: Callable[..., Any]
) -> None:
    log(cast.anouk, today - timedelta(days=40), 40)
    at_clinic("ida", lambda db: learning.keep(db, 120, QUICK, clock()))
    asked = coming(cast, cast.anouk)
    background.sweep(settings)
    assert coming(cast, cast.anouk) == asked
    listed = signed_in(cast.app, "ida").get("/api/clinic/worklist").get_json()
    assert [row["limb_id"] for row in listed["limbs"] if row["person"]["name"] == "Anouk"] == [cast.anouk.limb_id]


@pytest.mark.parametrize(
    "kept",
    [
        "x",
        [],
        {},
        {"on": None, "laws": "x", "wobbles": None},
        {"on": "2025-09-01", "limbs": 100, "laws": [1.0], "wobbles": [1.0]},
        {"on": "2025-09-01", "limbs": 100, "laws": [0.0] * len(PARTS.laws), "wobbles": list(SHIPPED.wobbles)},
    ],
)
def test_what_another_version_kept_breaks_no_page_and_counts_for_nothing(
    cast: Cast, today: date, at_clinic: Callable[..., Any], kept: object
) -> None:
    log(cast.anouk, today - timedelta(days=20), 20)
    plain = coming(cast, cast.anouk)

    def put(db: Database) -> None:
        with write(db):
            clinics.save_settings(db, {**clinics.clinic_row(db)["settings"], "learnt": kept})

    at_clinic("ida", put)
    assert shown(cast)["learnt"] is None
    assert coming(cast, cast.anouk, today) == plain


@pytest.mark.parametrize("wrong", ["yes", 1, None])
def test_the_switch_is_yes_or_no(cast: Cast, wrong: object) -> None:
    answer = cast.ida.patch("/api/clinic/settings", {"learn_from_own_limbs": wrong})
    assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, ["learn_from_own_limbs"])
    assert cast.ida.patch("/api/clinic/settings", {"learnt": {}}).status_code == 422
