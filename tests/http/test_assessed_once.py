"""A limb is assessed once for a request that needs it, and not at all where what was said still stands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from plytide.engine import assess
from plytide.storage.sqlite import write
from plytide.work import reassess
from tests.actors import Cast, Clock
from tests.conftest import signed_in
from tests.http.test_agreement import db_of

SCREENS = ("", "/assessment", "/plan", "/visit-page", "/visit-page.pdf", "/payer-page", "/payer-page.pdf", "/growth")
BLISTER = [{"place": "end of the limb", "finding": "blister", "redness_minutes": None}]


@pytest.fixture
def passes(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """A number for each pass of the engine: of how many limbs."""
    counted: list[int] = []
    real: Callable[..., Any] = assess.assess_volume

    def spied(histories: Any, *given: Any, **more: Any) -> Any:
        counted.append(len(histories))
        return real(histories, *given, **more)

    monkeypatch.setattr(assess, "assess_volume", spied)
    return counted


@pytest.fixture
def logged(cast: Cast, today: date) -> Cast:
    """Forty days of check-ins, a tape measurement among them."""
    first = today - timedelta(days=40)
    ply = [[{"ply": 3, "make": "single"}], [{"ply": 5, "make": "single"}]]
    cast.anouk.sync(
        *[cast.anouk.checkin(first + timedelta(days=n), stack=ply[n // 30], comfort=7) for n in range(40)],
        cast.anouk.checkin(today, stack=ply[1], skin=BLISTER),
    )
    levels = [{"from_end_mm": at, "circumference_mm": 260 + at / 2} for at in (50, 100, 150)]
    cast.ida.made(path(cast, "/measurements"), {"on": (today - timedelta(days=20)).isoformat(), "levels": levels})
    return cast


def path(cast: Cast, rest: str) -> str:
    return f"/api/clinic/limbs/{cast.anouk.limb_id}{rest}"


def body(cast: Cast, rest: str) -> Any:
    answer = cast.ida.get(path(cast, rest))
    assert answer.status_code == 200
    return answer.get_json(silent=True)


@pytest.mark.parametrize("rest", SCREENS)
def test_a_screen_asks_the_engine_once_when_news_came_and_never_when_none_did(
    logged: Cast, passes: list[int], today: date, rest: str
) -> None:
    fresh = body(logged, rest)
    assert passes == [1]
    logged.ida.get("/api/clinic/worklist")
    passes.clear()
    kept = body(logged, rest)
    assert passes == []
    if rest == "":  # what the round itself opened and wrote down
        fresh |= {name: kept[name] for name in ("signals", "assessed_on")}
    assert kept == fresh
    replayed = body(logged, f"{rest}?as_of={today - timedelta(days=5)}")
    assert passes == [1]
    if replayed:
        assert (replayed["as_of"], kept["as_of"]) == ((today - timedelta(days=5)).isoformat(), today.isoformat())


def test_dealing_with_a_row_asks_the_engine_for_nothing(logged: Cast, passes: list[int]) -> None:
    logged.ida.get("/api/clinic/worklist")
    signal = next(one for one in body(logged, "")["signals"] if one["kind"] == "skin")
    passes.clear()
    for action, given in (("acknowledge", {}), ("close", {"outcome": "Called"})):
        logged.ida.made(f"/api/clinic/signals/{signal['id']}/{action}", given)
    assert passes == []


def test_a_decision_asks_once_at_most(logged: Cast, passes: list[int], today: date) -> None:
    decided = {"on": today.isoformat(), "choice": "keep", "reasons": ["It serves."]}
    logged.ida.made(path(logged, "/decisions"), decided)
    assert passes == [1]


def test_what_stands_for_yesterday_is_not_shown_for_today(logged: Cast, passes: list[int], clock: Clock) -> None:
    logged.ida.get("/api/clinic/worklist")
    clock.forward(days=1)
    ida = signed_in(logged.app, "ida")
    passes.clear()
    assert body(replace(logged, ida=ida), "/assessment")["as_of"] == clock.now.date().isoformat()
    assert passes == [1]


def test_what_another_engine_said_is_not_shown(
    logged: Cast, passes: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    logged.ida.get("/api/clinic/worklist")
    monkeypatch.setattr(reassess, "engine_mark", lambda: "of-the-next-release")
    passes.clear()
    body(logged, "/assessment")
    assert passes == [1]


def test_what_was_kept_in_another_shape_is_made_again(logged: Cast, passes: list[int]) -> None:
    logged.ida.get("/api/clinic/worklist")
    with write(db_of(logged)) as db:
        db.conn.execute('UPDATE assessment_whole SET body = \'{"limb_id": "a"}\'')
    passes.clear()
    body(logged, "/assessment")
    assert passes == [1]


NEWS: dict[str, Callable[[Cast, str], Any]] = {
    "a check-in": lambda cast, day: cast.anouk.sync(cast.anouk.checkin(date.fromisoformat(day))),
    "the person": lambda cast, day: cast.ida.patch(f"/api/clinic/people/{cast.anouk.id}", {"tags": ["diabetes"]}),
    "the limb": lambda cast, day: cast.ida.patch(path(cast, ""), {"shape": "bulbous"}),
    "a socket": lambda cast, day: cast.ida.made(
        path(cast, "/sockets"), {"fitted_on": day, "purpose": "diagnostic", "despite": {"reason": "Dry."}}
    ),
    "a measurement": lambda cast, day: cast.ida.made(
        path(cast, "/measurements"), {"on": day, "levels": [{"from_end_mm": 50, "circumference_mm": 270}]}
    ),
    "a visit": lambda cast, day: cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/visits", {"on": day}),
    "a decision": lambda cast, day: cast.ida.made(
        path(cast, "/decisions"), {"on": day, "choice": "keep", "reasons": ["It serves."]}
    ),
    "a threshold": lambda cast, day: cast.ida.patch("/api/clinic/settings", {"thresholds": {"steady_margin_mm": 0.9}}),
    "another phone": lambda cast, day: cast.nobody.made(
        "/api/enrol",
        {
            "code": cast.ida.made(
                f"/api/clinic/people/{cast.anouk.id}/enrolment-codes",
                {"role": "caregiver", "person_ids": [cast.anouk.id]},
            )["code"],
            "label": "A second phone",
        },
    ),
}


@pytest.mark.parametrize("news", NEWS)
def test_whatever_the_engine_reads_makes_what_was_kept_old(
    logged: Cast, passes: list[int], today: date, news: str
) -> None:
    logged.ida.get("/api/clinic/worklist")
    NEWS[news](logged, today.isoformat())
    passes.clear()
    body(logged, "/assessment")
    assert passes == [1]


def test_a_look_at_the_skin_makes_what_was_kept_old(logged: Cast, passes: list[int]) -> None:
    logged.ida.get("/api/clinic/worklist")
    signal = next(one for one in body(logged, "")["signals"] if one["kind"] == "skin")
    logged.ida.made(f"/api/clinic/signals/{signal['id']}/close", {"outcome": "Called"})
    passes.clear()
    body(logged, "/assessment")
    assert passes == [1]
