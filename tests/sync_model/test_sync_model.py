"""Whatever phones, network and server do, nothing is lost, nothing is there twice, and all show one picture.

And the model can tell: take any one safeguard away, and a named test fails.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, ClassVar

import orjson
import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from plytide.storage import checkin as checkins
from plytide.storage.checkin import CheckInRow
from plytide.wire import checkin as wire
from plytide.work import sync
from tests.sync_model.conftest import Worlds
from tests.sync_model.phone import ALL, Json, Rules
from tests.sync_model.world import Broken, World

who = st.integers(0, 2)


class Phones(RuleBasedStateMachine):
    worlds: ClassVar[Worlds]
    world: World

    @initialize()
    def begin(self) -> None:
        self.world = self.worlds()

    @rule(who=who, limb=st.integers(0, 1), days=st.integers(-1, 30), bad=st.sampled_from([False] * 9 + [True]))
    def write(self, who: int, limb: int, days: int, bad: bool) -> None:
        self.world.write(who, limb, days, bad=bad)

    @rule(who=who, which=st.integers(0, 30), withdraw=st.booleans())
    def amend(self, who: int, which: int, withdraw: bool) -> None:
        self.world.amend(who, which, withdraw=withdraw)

    @rule(who=who)
    def ask(self, who: int) -> None:
        self.world.ask(who)

    @rule(who=who, which=st.integers(0, 9))
    def answer(self, who: int, which: int) -> None:
        self.world.answer(who, which)

    @rule(who=who, fault=st.sampled_from((*World.FAULTS, "request again later")))
    def call(self, who: int, fault: str) -> None:
        self.world.call(who, fault)

    @rule(which=st.integers(0, 9))
    def stray(self, which: int) -> None:
        self.world.stray(which)

    @rule()
    def back_up(self) -> None:
        self.world.back_up()

    @rule(which=st.integers(0, 3))
    def restore(self, which: int) -> None:
        self.world.restore(which)

    @rule()
    def restart(self) -> None:
        self.world.start()

    @rule(who=who)
    def lose_phone(self, who: int) -> None:
        self.world.lose_phone(who)

    @rule(who=who, hours=st.sampled_from([0, 1, -30, 9000]))
    def clock_jumps(self, who: int, hours: float) -> None:
        self.world.clock_jumps(who, hours)

    @rule(hours=st.integers(1, 30))
    def time_passes(self, hours: int) -> None:
        self.world.clock.forward(hours=hours)

    @invariant()
    def holds(self) -> None:
        if hasattr(self, "world"):
            self.world.check()

    def teardown(self) -> None:
        if hasattr(self, "world"):
            self.world.settle()


def test_nothing_is_lost_or_doubled_whatever_happens(worlds: Worlds) -> None:
    Phones.worlds = staticmethod(worlds)  # type: ignore[assignment]
    run_state_machine_as_test(  # type: ignore[no-untyped-call]
        Phones,
        settings=settings(
            max_examples=12,
            stateful_step_count=40,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )


def walks(worlds: Worlds, seeds: range, steps: int, rules: Rules = ALL, seconds: float = 300) -> int:
    """Walks at random until the first broken promise or the end; how many went well."""
    until = time.monotonic() + seconds
    for n, seed in enumerate(seeds):
        worlds(seed, rules).walk(steps)
        if time.monotonic() > until:
            return n + 1
    return len(seeds)


def test_long_walks_at_random_end_well(worlds: Worlds) -> None:
    assert walks(worlds, range(8), 150, seconds=4) >= 1


@pytest.mark.parametrize(
    ("missing", "said"),
    [
        ("forgets_only_on_a_receipt", "not at the clinic|no longer seen as refused"),
        ("forgets_only_what_the_receipt_names", "not at the clinic|no longer seen as refused"),
        ("rows_and_cursor_together", "two pictures"),
        ("offers_again_in_a_new_epoch", "on a phone and not at the clinic"),
        ("offers_answers_again", "an answer is on a phone and not at the clinic"),
    ],
)
def test_a_phone_without_one_of_its_safeguards_is_caught(worlds: Worlds, missing: str, said: str) -> None:
    with pytest.raises(Broken, match=said):
        walks(worlds, range(60), 120, Rules(**{missing: False}))


# Servers with a safeguard taken out


def no_epoch(patch: pytest.MonkeyPatch) -> None:
    patch.setattr("plytide.storage.files.backup.new_epoch", lambda db: "")
    patch.setattr(sync, "_forked", lambda db, cursor: False)


def no_idempotency(patch: pytest.MonkeyPatch) -> None:
    """Each call's items get ids of the server's own, as a table without the phone's id would."""
    keep: Callable[..., int] = checkins.keep
    count = 0

    def keep_each(db: Any, new: Any, device_id: str, now: Any) -> int:
        nonlocal count
        count += 1
        return keep(db, [(f"{count}-{id_}", *rest) for id_, *rest in new], device_id, now)

    patch.setattr(checkins, "already", lambda db, ids: {})
    patch.setattr(checkins, "keep", keep_each)


def cursor_by_time(patch: pytest.MonkeyPatch) -> None:
    """What was written before the newest entry a phone has seen is never given to it."""

    def since(
        db: Any, limb_ids: Any, seq: int, limit: int, own_only: Any = None, withheld: Any = ()
    ) -> list[CheckInRow]:
        rows = [row for limb_id in limb_ids for row in checkins.of_limb(db, limb_id)]
        seen = max((wire.out("", "", row.body)["written_at"] for row in rows if row.seq <= seq), default="")
        return sorted(row for row in rows if row.seq > seq and wire.out("", "", row.body)["written_at"] > seen)[:limit]

    patch.setattr(checkins, "since", since)


def receipt_before_the_disk(patch: pytest.MonkeyPatch) -> None:
    """Says kept, and the next crash takes it: here, every write is undone after the receipts are made."""
    from contextlib import contextmanager

    @contextmanager
    def forgetful(db: Any) -> Any:
        db.conn.execute("BEGIN IMMEDIATE")
        yield db
        db.rollback()

    patch.setattr(sync, "write", forgetful)


def no_changes_given(patch: pytest.MonkeyPatch) -> None:
    """Receipts and no news."""
    patch.setattr(sync, "_changes", lambda *args: ([], False))


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (no_epoch, "on a phone and not at the clinic|two pictures"),
        (no_idempotency, "kept twice|two pictures|not there"),
        (cursor_by_time, "two pictures"),
        (receipt_before_the_disk, "receipted and not there"),
        (no_changes_given, "two pictures"),
    ],
)
def test_a_server_without_one_of_its_safeguards_is_caught(
    worlds: Worlds, monkeypatch: pytest.MonkeyPatch, fault: Callable[[pytest.MonkeyPatch], None], said: str
) -> None:
    fault(monkeypatch)
    with pytest.raises(Broken, match=said):
        walks(worlds, range(60), 120)


def test_a_server_without_a_canonical_text_is_caught(worlds: Worlds, monkeypatch: pytest.MonkeyPatch) -> None:
    """An entry offered again by a phone that had it from us, with every field filled in, must be the same entry."""
    canonical = wire.body_of

    def as_it_came(item: Json) -> str:
        said = {"moment": item["moment"]} if "moment" in item else {}
        return orjson.dumps(orjson.loads(canonical(item)) | said, option=orjson.OPT_SORT_KEYS).decode()

    monkeypatch.setattr(wire, "body_of", as_it_came)
    with pytest.raises(Broken, match="refused a good entry"):
        walks(worlds, range(60), 120)


def the_writers_phone_is_lost(world: World) -> None:
    """Written on one phone, read on another, backed up too early: only the other phone still has it."""
    world.call(0)
    world.call(1)
    world.back_up()
    world.write(0, 0, 1)
    world.call(0)
    world.call(1)
    world.restore(0)
    world.lose_phone(0)
    world.settle()


def test_an_entry_only_anothers_phone_still_holds_comes_back_after_a_restore(worlds: Worlds) -> None:
    world = worlds()
    the_writers_phone_is_lost(world)
    assert sum(world.kept().values()) == 1


def test_a_phone_that_offers_only_its_own_entries_again_is_caught(worlds: Worlds) -> None:
    with pytest.raises(Broken, match="on a phone and not at the clinic"):
        the_writers_phone_is_lost(worlds(0, Rules(offers_others_entries_too=False)))
