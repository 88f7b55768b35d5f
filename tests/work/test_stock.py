"""The ledger adds up, whatever is done to it in whatever order; and a file of stock says what it could not take."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as tried
from hypothesis import strategies as st
from sqlite_utils import Database

from plytide.export import stock_csv
from plytide.settings import Settings
from plytide.storage import stock
from plytide.storage.sqlite import DatabaseError, connect, write
from plytide.wire.checkin import Refused
from plytide.wire.stock import DEEDS, rows_of
from plytide.work import stock as work
from plytide.work.refusal import Refusal, StandsAgainst
from plytide.work.stock_need import Need, against, fits, to_order
from tests.storage.test_lost import file_of

NOW = datetime(2025, 9, 15, 12, 0, tzinfo=UTC)
TODAY = date(2025, 9, 15)
LINER: dict[str, Any] = {
    "kind": "liner", "name": "Cushion liner", "size": "24", "counted_in": "unit", "least": 0,
}  # fmt: skip


@pytest.fixture
def db(settings: Settings) -> Iterator[Database]:
    from plytide.http.app import create_app

    create_app(settings)
    opened = connect(file_of(settings, "nora"))
    yield opened
    opened.close()


def item_of(db: Database, **values: Any) -> stock.Row:
    with write(db):
        item_id = stock.add_item(db, {**LINER, **values}, "s", NOW)
    return work.seen(db, item_id)


def enter(db: Database, item: stock.Row, deed: str, count: int, n: str, **more: Any) -> bool:
    with write(db):
        return work.enter(db, item["id"], {"id": n, "deed": deed, "count": count, **more}, "s", NOW)


def on_hand(db: Database, item: stock.Row) -> tuple[int, int]:
    return stock.sums(db, item["id"]).get(item["id"], (0, 0))


LOTS = st.sampled_from(["", "A", "B"])
STEPS = st.lists(
    st.tuples(st.sampled_from(DEEDS), st.integers(0, 5), LOTS, st.sampled_from(["unit", "pair"]), st.booleans()),
    max_size=25,
)


@tried(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=STEPS, kind=st.sampled_from(["unit", "pair"]))
def test_the_ledger_adds_up(db: Database, steps: list[tuple[str, int, str, str, bool]], kind: str) -> None:
    item = item_of(db, counted_in=kind)
    held: dict[str, int] = {}
    order = 0
    for n, (deed, count, lot, counted_in, anyway) in enumerate(steps):
        more: dict[str, Any] = {"lot": lot, "counted_in": counted_in, "reason": "Looked."}
        more |= {"despite": {"reason": "It lay on the table."}} if anyway else {}
        before, wanted = (dict(held), order), count * (2 if counted_in == "pair" else 1)
        try:
            for _ in range(2):  # a second press moves nothing
                enter(db, item, deed, count, f"{item['id']}-{n}", **more)
        except StandsAgainst:
            assert not anyway and deed in work.OFF
            assert wanted > (held.get(lot, 0) if lot else sum(held.values())) or wanted > sum(held.values())
        except Refusal as refusal:
            assert (wanted == 0 and deed != "counted") or (refusal.field == "count" and wanted > order)
        else:
            if deed == "received":
                held[lot], order = held.get(lot, 0) + wanted, order - min(wanted, order)
            elif deed == "ordered":
                order += wanted
            elif deed == "order_off":
                order -= wanted
            elif deed == "counted":
                held[lot] = wanted
            elif lot:
                held[lot] = held.get(lot, 0) - wanted
            else:
                taken = {one: change for one, _, change in _lots(db, item)}
                assert sum(held.values()) - sum(taken.values()) == wanted
                held = dict(taken)
            before = (held, order)
        assert {k: v for k, v in before[0].items() if v} == {lot: n for lot, _, n in _lots(db, item)}
        assert on_hand(db, item) == (sum(before[0].values()), before[1])
    rows = stock.movements(db, item["id"], 1000)
    assert sum(row["hand"] for row in rows) == on_hand(db, item)[0]


def _lots(db: Database, item: stock.Row) -> list[tuple[str, str | None, int]]:
    return stock.lots(db, item["id"]).get(item["id"], [])


def test_the_ledger_is_only_added_to(db: Database) -> None:
    item = item_of(db)
    enter(db, item, "received", 2, "m1")
    for statement in ("UPDATE stock_movement SET hand = 9", "DELETE FROM stock_movement"):
        with pytest.raises(DatabaseError, match="append-only"), write(db):
            db.conn.execute(statement)


def test_a_lot_that_ends_first_is_taken_first_and_one_over_its_day_is_asked_about(db: Database) -> None:
    item = item_of(db)
    for n, (lot, ends) in enumerate((("late", "2026-05-01"), ("soon", "2025-10-01"), ("old", "2025-09-14"))):
        extra = {"despite": {"reason": "It came so."}} if lot == "old" else {}
        enter(db, item, "received", 1, f"r{n}", lot=lot, expires_on=ends, **extra)
    assert enter(db, item, "used", 2, "u1")
    assert [lot for lot, _, _ in _lots(db, item)] == ["old"]
    with pytest.raises(StandsAgainst) as told:
        enter(db, item, "used", 1, "u2")
    assert [one["code"] for one in told.value.against] == ["expired-lot"]
    assert "good until 2025-09-14" in told.value.against[0]["text"]
    assert enter(db, item, "expired", 1, "u3", lot="old")  # thrown away without a question
    assert on_hand(db, item) == (0, 0)


def test_a_lot_keeps_its_day_and_another_day_is_another_lot(db: Database) -> None:
    """Before: the latest day of all lines held for all, so that old pieces read as good once newer ones came."""
    item = item_of(db)
    enter(db, item, "received", 5, "m1", expires_on="2025-10-01")
    enter(db, item, "received", 2, "m2", lot="A", expires_on="2025-10-01")
    for n, lot, field in (("m3", "", "lot"), ("m4", "A", "expires_on")):
        with pytest.raises(Refusal) as told:
            enter(db, item, "received", 1, n, lot=lot, expires_on="2027-01-31")
        assert told.value.field == field
    rows = HEAD + "liner,Cushion liner,24,unit,,2027-01-31,1,,,,\r\nliner,Cushion liner,24,unit,A,2027-01-31,1,,,,\r\n"
    found = bring(db, rows, "i1", how="add")
    assert [list(one["fields"]) for one in found["faults"]] == [["lot"], ["expires_on"]] and found["moved"] == 0
    assert _lots(db, item) == [("", "2025-10-01", 5), ("A", "2025-10-01", 2)]


def test_a_day_entered_wrong_is_put_right_by_a_count_earlier_too(db: Database) -> None:
    item = item_of(db)
    enter(db, item, "received", 2, "m1", lot="A", expires_on="2036-01-31")
    enter(db, item, "counted", 2, "m2", lot="A", expires_on="2026-01-31", reason="Misread.")
    assert _lots(db, item) == [("A", "2026-01-31", 2)]
    row = "liner,Cushion liner,24,unit,A,2026-02-28,2,,,,\r\n"
    assert bring(db, HEAD + row, "i1")["moved"] == 1  # the same number, another day
    assert _lots(db, item) == [("A", "2026-02-28", 2)]
    enter(db, item, "used", 2, "m3")
    enter(db, item, "received", 1, "m4", lot="A")
    assert _lots(db, item) == [("A", "2026-02-28", 1)]


def test_pieces_without_a_lot_do_not_inherit_the_day_of_those_used_up(db: Database) -> None:
    item = item_of(db)
    enter(db, item, "received", 1, "m1", expires_on="2025-09-20")
    enter(db, item, "used", 1, "m2")
    enter(db, item, "received", 1, "m3")
    assert _lots(db, item) == [("", None, 1)]


@pytest.mark.parametrize("deed", DEEDS)
def test_the_same_id_with_another_count_is_refused_by_field(db: Database, deed: str) -> None:
    """Before: it was answered as kept, and the second number was nowhere."""
    item = item_of(db)
    enter(db, item, "received", 1, "r1", lot="A", expires_on="2026-01-31")
    enter(db, item, "received", 9, "r2")
    enter(db, item, "ordered", 9, "o1")
    more = {"reason": "Counted."}
    assert enter(db, item, deed, 3, "m1", **more)  # what leaves comes out of two lots
    before = on_hand(db, item)
    assert not enter(db, item, deed, 3, "m1", **more)
    with pytest.raises(Refusal) as told:
        enter(db, item, deed, 2, "m1", **more)
    assert told.value.field == "id" and on_hand(db, item) == before
    assert enter(db, item, "received", 1, "m1.1")  # an id of somebody's own is not taken by ours


def test_the_same_id_with_another_deed_is_refused_by_field(db: Database) -> None:
    item = item_of(db)
    enter(db, item, "received", 2, "m1")
    with pytest.raises(Refusal) as told:
        enter(db, item, "used", 2, "m1")
    assert told.value.field == "id"
    with pytest.raises(Refusal) as told:
        enter(db, item, "counted", 2, "m2")
    assert told.value.field == "reason"


def test_a_pair_is_two_and_is_said_so() -> None:
    item = {"counted_in": "pair"}
    assert work.pieces(item, 3, None) == 6 and work.pieces(item, 3, "unit") == 3
    assert [work.said(item, n) for n in (0, 1, 2, 5, -3)] == [
        "0 pairs", "1 single", "1 pair", "2 pairs and 1 single", "minus 1 pair and 1 single",
    ]  # fmt: skip


# Files.

HEAD = "kind,name,size,counted_in,lot,expires_on,on_hand,least,ply,from_mm,to_mm\r\n"


def bring(db: Database, text: str, n: str, how: str = "count", dry_run: bool = False) -> dict[str, Any]:
    with write(db):
        return work.bring(db, {"id": n, "name": "s.csv", "how": how, "csv": text, "dry_run": dry_run}, "s", NOW)


def test_ten_thousand_rows_with_three_bad_ones(db: Database) -> None:
    rows = [f"sock,Sock {n},M,pair,L{n},2027-01-31,{n % 7},2,3,," for n in range(10_000)]
    rows[41] = "sock,Sock 41,M,pair,L41,31.01.2027,1,2,3,,"
    rows[7000] = "shoe,Sock 7000,M,pair,L7000,,1,2,3,,"
    rows[9999] = "sock,,M,pair,,,-2,2,3,,"
    text = HEAD + "\r\n".join(rows) + "\r\n"
    dry = bring(db, text, "i1", dry_run=True)
    assert stock.items(db) == [] and stock.imports(db) == []
    done = bring(db, text, "i1")
    assert {**done} == {**dry} and done["rows"] == 9997 and done["new_items"] == 9997
    assert [(one["line"], list(one["fields"])) for one in done["faults"]] == [
        (43, ["expires_on"]), (7002, ["kind"]), (10001, ["name", "on_hand"]),
    ]  # fmt: skip
    assert sum(hand for hand, _ in stock.sums(db).values()) == sum(
        2 * (n % 7) for n in range(10_000) if n not in (41, 7000, 9999)
    )
    again = bring(db, text, "i1")  # a second press
    assert again["moved"] == 0 and len(stock.imports(db)) == 1
    assert bring(db, text, "i2")["moved"] == 0  # the same count once more changes nothing
    said = db.conn.execute("SELECT detail FROM audit WHERE subject = 'stock-import:i2'").fetchone()
    assert said[0] == "9997 rows, 0 moved, 9997 as they stood"  # and that it was made is on the record
    with write(db):
        back = work.undo(db, "i1", "s", NOW)
    assert back["kept"] == [] and back["gone"] == done["moved"]
    assert set(stock.sums(db).values()) == {(0, 0)}


def test_an_undo_leaves_what_was_used_since_and_names_it(db: Database) -> None:
    bring(db, HEAD + "liner,A,24,unit,L1,,3,,,,\r\nliner,B,26,unit,L1,,3,,,,\r\n", "i1", how="add")
    first, second = stock.items(db)
    enter(db, first, "used", 1, "u1")
    with write(db):
        back = work.undo(db, "i1", "s", NOW)
    assert [one["name"] for one in back["kept"]] == [first["name"]] and "2 left of 3" in back["kept"][0]["why"]
    assert on_hand(db, first) == (2, 0) and on_hand(db, second) == (0, 0)
    with pytest.raises(Refusal), write(db):
        work.undo(db, "i1", "s", NOW)


@pytest.mark.parametrize("how", ["add", "count"])
def test_what_was_counted_after_a_file_came_in_is_not_undone_with_it(db: Database, how: str) -> None:
    bring(db, HEAD + "liner,A,24,unit,L1,,3,,,,\r\nliner,B,26,unit,L1,,3,,,,\r\n", "i1", how=how)
    first, second = stock.items(db)
    enter(db, first, "counted", 5, "c1", lot="L1", reason="On the shelf.")
    with write(db):
        back = work.undo(db, "i1", "s", NOW)
    assert [one["name"] for one in back["kept"]] == [first["name"]] and "counted since" in back["kept"][0]["why"]
    assert on_hand(db, first) == (5, 0) and on_hand(db, second) == (0, 0)


def test_a_delivery_in_a_file_is_no_longer_on_order_and_its_undo_orders_it_again(db: Database) -> None:
    item = item_of(db)
    enter(db, item, "ordered", 5, "o1")
    bring(db, HEAD + "liner,Cushion liner,24,unit,,,3,,,,\r\n", "i1", how="add")
    assert on_hand(db, item) == (3, 2)
    with write(db):
        work.undo(db, "i1", "s", NOW)
    assert on_hand(db, item) == (0, 5)


def test_a_row_that_fits_two_items_is_named_and_counts_for_none(db: Database) -> None:
    one, other = item_of(db), item_of(db, name="cushion  LINER")
    found = bring(db, HEAD + "liner,Cushion liner,24,unit,,,3,,,,\r\n", "i1")
    assert [list(each["fields"]) for each in found["faults"]] == [["name"]] and found["moved"] == 0
    assert on_hand(db, one) == on_hand(db, other) == (0, 0)


@pytest.mark.parametrize("name", ["=x", "\u200b=x", "\uff1dx", "\u2212x", "@x", "-1"])
def test_a_name_guarded_for_a_spreadsheet_is_read_again_as_it_was(db: Database, name: str) -> None:
    item = item_of(db, name=name)
    enter(db, item, "received", 2, "m1")
    found = bring(db, stock_csv.on_hand(work.with_sums(db, TODAY)).decode(), "i1")
    assert (found["new_items"], found["moved"], found["faults"]) == (0, 0, [])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a,b\n1,2\n", "no column “a”"),
        ("kind,name\nliner,A\n", "lacks: on_hand"),
        ("kind,name,name,on_hand\n", "twice"),
        ("\x00", "no column"),
    ],
)
def test_a_file_that_is_none_says_what_is_wrong(text: str, words: str) -> None:
    with pytest.raises(Refused) as told:
        rows_of(text)
    assert words in told.value.errors["csv"][0]


def test_rows_keep_quotes_semicolons_and_a_guarded_cell() -> None:
    good, faults = rows_of(
        '\ufeffkind;name;on_hand;from_mm\r\nliner;"A;\nB";2;220,5\r\nliner;\'=x;1;\r\nliner;C;x;\r\n'
    )
    assert [(one["name"], one["on_hand"]) for _, one in good] == [("A;\nB", 2), ("=x", 1)]
    assert good[0][1]["from_mm"] == 220.5 and [(one["line"], list(one["fields"])) for one in faults] == [
        (5, ["on_hand"])
    ]


# What the coming weeks need.


def line(
    item_id: str, hand: int, order: int = 0, least: int = 0, ends: str | None = None, **values: Any
) -> dict[str, Any]:
    base = {"id": item_id, "name": item_id, "size": None, "maker": None, "ply": None, "from_mm": None, "to_mm": None}
    lots = [{"lot": "", "expires_on": ends, "on_hand": hand}]
    return {**base, "kind": "liner", "counted_in": "unit", "least": least, "on_order": order, "lots": lots, **values}


def test_a_piece_serves_one_need_only_and_one_over_its_day_by_then_none() -> None:
    items = [
        line("wide", 1, from_mm=200, to_mm=300),
        line("late", 5, ends="2025-09-30", from_mm=230, to_mm=249),
        line("socks", 3, order=1, least=2, kind="sock", ply=3, counted_in="pair"),
    ]
    wanted = [Need("liner", "24 cm", 1), Need("liner", "25 cm", 1), Need("3-ply sock", "", 6), Need("sheath", "", 2)]
    lines, used = against(items, wanted, TODAY)
    assert [(one["there"], one["ordered"], one["short"]) for one in lines] == [
        (1, 0, 0),
        (0, 0, 1),
        (3, 1, 2),
        (0, 0, 2),
    ]
    order = {one["name"]: one["count"] for one in to_order(items, used, lines, TODAY)}
    assert order == {"wide": 1, "socks": 4, "sheath": 2}


def test_a_liner_fits_by_its_circumference_and_a_sock_by_its_ply() -> None:
    assert fits(line("a", 0, from_mm=240, to_mm=260), "liner", "24 cm")
    assert not fits(line("a", 0, from_mm=250, to_mm=260), "liner", "24 cm")
    assert fits(line("a", 0, size="24cm"), "liner", "24 cm") and not fits(line("a", 0), "liner", "24 cm")
    assert fits(line("a", 0, kind="sock", ply=0), "sheath", "") and not fits(line("a", 0, kind="sock"), "sheath", "")
