"""Stock over HTTP: two who take the last one, words for what is not there, what planned recasts need, files."""

from __future__ import annotations

import csv
import io
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from tests.actors import Actor, Cast
from tests.conftest import TODAY

ITEMS = "/api/clinic/stock/items"
LINER = {"kind": "liner", "name": "Cushion liner", "size": "24", "from_mm": 230, "to_mm": 259}


def item(cast: Cast, hand: int = 0, **values: Any) -> str:
    item_id = str(cast.ida.made(ITEMS, {**LINER, **values})["id"])
    if hand:
        moved(cast.ida, item_id, "received", hand, "first")
    return item_id


def moved(who: Actor, item_id: str, deed: str, count: int, n: str, **more: Any) -> Any:
    body = {"id": f"{n}-{item_id}", "deed": deed, "count": count, **more}
    return who.post(f"{ITEMS}/{item_id}/movements", body)


def one(cast: Cast, item_id: str) -> dict[str, Any]:
    found: list[dict[str, Any]] = cast.ida.get(ITEMS).get_json()["items"]
    return next(each for each in found if each["id"] == item_id)


def test_two_take_the_last_one_and_the_second_is_told_by_whom(cast: Cast) -> None:
    item_id = item(cast, 1)
    with ThreadPoolExecutor(2) as both:
        answers = list(
            both.map(lambda who: moved(who[1], item_id, "used", 1, who[0]), [("a", cast.ida), ("b", cast.juno)])
        )
    assert sorted(answer.status_code for answer in answers) == [201, 409]
    told = next(answer.get_json() for answer in answers if answer.status_code == 409)
    assert told["error"]["code"] == "stands-against"
    assert "0 on hand" in told["against"][0]["text"] and "took the last one" in told["against"][0]["text"]
    assert one(cast, item_id)["on_hand"] == 0


def test_below_nothing_only_with_words_which_are_kept(cast: Cast) -> None:
    item_id = item(cast)
    assert moved(cast.ida, item_id, "used", 1, "a").status_code == 409
    assert moved(cast.ida, item_id, "used", 1, "a", despite={"reason": "x"}).status_code == 422
    words = {"reason": "It lay in the other room."}
    assert moved(cast.ida, item_id, "used", 1, "a", despite=words).status_code == 201
    assert moved(cast.ida, item_id, "used", 1, "a", despite=words).status_code == 200  # a second press
    assert one(cast, item_id)["on_hand"] == -1
    lines = cast.ida.get(f"{ITEMS}/{item_id}/movements").get_json()["movements"]
    assert [(line["deed"], line["hand"], line["reason"]) for line in lines] == [("used", -1, words["reason"])]
    counted = moved(cast.ida, item_id, "counted", 2, "c", reason="Counted on Monday.")
    assert counted.get_json() == {"on_hand": 2, "on_order": 0}


def test_an_item_is_closed_only_when_nothing_of_it_is_left(cast: Cast) -> None:
    item_id = item(cast, 1)
    refused = cast.ida.patch(f"{ITEMS}/{item_id}", {"closed": True})
    assert list(refused.get_json()["error"]["fields"]) == ["closed"]
    assert list(cast.ida.patch(f"{ITEMS}/{item_id}", {"counted_in": "pair"}).get_json()["error"]["fields"]) == [
        "counted_in"
    ]
    assert list(cast.ida.patch(f"{ITEMS}/{item_id}", {"to_mm": 100}).get_json()["error"]["fields"]) == ["to_mm"]
    moved(cast.ida, item_id, "expired", 1, "gone")
    assert cast.ida.patch(f"{ITEMS}/{item_id}", {"closed": True}).status_code == 200
    assert all(each["id"] != item_id for each in cast.ida.get(ITEMS).get_json()["items"])


def plan_a_recast(cast: Cast) -> None:
    limb = f"/api/clinic/limbs/{cast.anouk.limb_id}"
    levels = [{"from_end_mm": 40, "circumference_mm": 244}, {"from_end_mm": 120, "circumference_mm": 290}]
    cast.ida.made(f"{limb}/measurements", {"on": TODAY.isoformat(), "levels": levels})
    said = {"on": TODAY.isoformat(), "choice": "definitive-now", "planned_on": "2025-10-06"}
    cast.ida.made(f"{limb}/decisions", said)
    cast.ida.get("/api/clinic/worklist")


def test_what_the_coming_weeks_need_against_it(cast: Cast) -> None:
    plan_a_recast(cast)
    item_id = item(cast, least=1)
    need = cast.ida.get("/api/clinic/stock/need").get_json()
    assert [(one["name"], one["on"]) for one in need["recasts"]] == [("Anouk", "2025-10-06")]
    liner = next(line for line in need["needs"] if line["what"] == "liner")
    assert (liner["count"], liner["there"], liner["short"], liner["items"]) == (1, 0, 1, [item_id])
    assert liner["for"][0]["name"] == "Anouk"
    assert need["to_order"][0]["count"] == 2  # one for her, and the least on the shelf
    moved(cast.ida, item_id, "ordered", 2, "order")
    again = cast.ida.get("/api/clinic/stock/need").get_json()
    assert all(each["item_id"] != item_id for each in again["to_order"])
    moved(cast.ida, item_id, "received", 2, "came")
    assert (one(cast, item_id)["on_hand"], one(cast, item_id)["on_order"]) == (2, 0)


def test_out_and_in_again_changes_nothing(cast: Cast) -> None:
    pairs = item(
        cast, 0, kind="sock", name="=Sock", size="M", counted_in="pair", ply=3, from_mm=None, to_mm=None, least=2
    )
    moved(cast.ida, pairs, "received", 3, "r", counted_in="unit", lot="L-1", expires_on="2026-01-31")
    item(cast, 2)
    out = cast.ida.get("/api/clinic/stock/stock.csv").get_data(as_text=True)
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [(row["name"], row["on_hand"], row["least"]) for row in rows] == [
        ("Cushion liner", "2", "0"),
        ("'=Sock", "1.5", "2"),
    ]
    body = {"id": "i1", "name": "stock.csv", "how": "count", "csv": out}
    done = cast.ida.made("/api/clinic/stock/imports", body)
    assert (done["rows"], done["faults"], done["new_items"], done["moved"]) == (2, [], 0, 0)
    ledger = list(csv.DictReader(io.StringIO(cast.ida.get("/api/clinic/stock/ledger.csv").get_data(as_text=True))))
    assert [row["deed"] for row in ledger] == ["received", "received"]
    assert cast.ida.get("/api/clinic/stock/order.csv").get_data(as_text=True).startswith("name,size,maker,count")


def test_a_file_that_is_none_is_refused_by_field_and_a_foreign_item_is_not_there(cast: Cast) -> None:
    body = {"id": "i1", "name": "x", "how": "add", "csv": "no,stock\n1,2\n"}
    refused = cast.ida.post("/api/clinic/stock/imports", body)
    assert refused.status_code == 422 and list(refused.get_json()["error"]["fields"]) == ["csv"]
    item_id = item(cast, 1)
    assert moved(cast.teodor, item_id, "used", 1, "x").status_code == 404
    assert cast.teodor.get(ITEMS).get_json()["items"] == []


@pytest.mark.parametrize("count", [-1, 1.5, "2", None, 10**9])
def test_a_count_that_is_none_is_refused(cast: Cast, count: Any) -> None:
    refused = moved(cast.ida, item(cast), "received", count, "x")
    assert refused.status_code == 422 and list(refused.get_json()["error"]["fields"]) == ["count"]
