"""Over HTTP: tags on the row, a baseline that was not entered, and what the phone says of a limb nobody logs."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from plytide.auth.call import clinic_db
from plytide.auth.guards import STAFF, guarded
from tests.actors import Cast


def row_of(cast: Cast, limb_id: str) -> dict[str, Any]:
    rows: list[dict[str, Any]] = cast.ida.get("/api/clinic/worklist").get_json()["limbs"]
    return next(row for row in rows if row["limb_id"] == limb_id)


def test_the_tags_a_reading_depends_on_stand_on_row_limb_plan_and_visit_page(cast: Cast, today: date) -> None:
    given = {"tags": ["congenital", "diabetes", "heart_failure", "dialysis"]}
    assert cast.ida.patch(f"/api/clinic/people/{cast.bram.id}", given).status_code == 200
    cast.bram.sync(cast.bram.checkin(today))
    told = ["child", "heart_failure", "dialysis", "diabetes"]  # most telling first; from birth changes no reading
    limb = cast.bram.limb_id
    assert row_of(cast, limb)["reading_tags"] == told
    for path in (f"limbs/{limb}", f"limbs/{limb}/plan", f"limbs/{limb}/assessment"):
        assert cast.ida.get(f"/api/clinic/{path}").get_json()["reading_tags"] == told, path
    page = cast.ida.get(f"/api/clinic/limbs/{limb}/visit-page").get_json()
    assert page["reading"] == "child, heart failure, dialysis, diabetes"
    assert cast.ida.get(f"/api/clinic/limbs/{limb}/visit-page.pdf").status_code == 200


def test_rows_cost_no_query_each_for_their_tags(cast: Cast, today: date) -> None:
    from plytide.storage import worklist

    for wearer in (cast.anouk, cast.bram, cast.dov):
        wearer.sync(wearer.checkin(today))
    cast.ida.get("/api/clinic/worklist")

    def asked(limit: int) -> int:
        seen: list[str] = []
        with cast.app.test_request_context(headers=cast.ida.headers):

            def look() -> int:
                db = clinic_db()
                db.conn.set_trace_callback(seen.append)
                rows, _ = worklist.page(db, today.isoformat(), limit=limit)
                db.conn.set_trace_callback(None)
                assert all("reading_tags" in row and "lacks" in row for row in rows)
                return len(rows)

            assert guarded(look, STAFF)() == limit
        return len(seen)

    assert asked(1) == asked(4)


@pytest.mark.parametrize(
    ("given", "stack"),
    [({}, None), ({"stack_at_fitting": None}, None), ({"stack_at_fitting": []}, [])],
    ids=["left out", "null", "none worn"],
)
def test_a_socket_tells_no_sock_from_not_entered(
    cast: Cast, today: date, given: dict[str, Any], stack: list[Any] | None
) -> None:
    made = {"fitted_on": (today - timedelta(days=3)).isoformat(), "purpose": "definitive", **given}
    socket = cast.ida.made(f"/api/clinic/limbs/{cast.anouk.limb_id}/sockets", made)["id"]
    cast.anouk.sync(cast.anouk.checkin(today))
    story = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
    kept = next(one for one in story["sockets"] if one["id"] == socket)
    assert (kept["stack_at_fitting"], kept["baseline_unsure"]) == (stack, False)
    codes = [one["code"] for one in story["assessment"]["lacks"]]
    assert ("no-baseline" in codes) is (stack is None)
    assert row_of(cast, cast.anouk.limb_id)["lacks"] == story["assessment"]["lacks"]
    phone = cast.anouk.phone.get("/api/me").get_json()["people"][0]["limbs"][0]["sockets"]
    assert stack in [one["stack_at_fitting"] for one in phone]


def test_a_row_of_before_says_both_until_somebody_enters_it(cast: Cast, today: date) -> None:
    """An empty stack kept before the two were told apart stays readable, and is mended by entering it."""
    made = {"fitted_on": (today - timedelta(days=3)).isoformat(), "purpose": "definitive", "stack_at_fitting": []}
    socket = cast.ida.made(f"/api/clinic/limbs/{cast.anouk.limb_id}/sockets", made)["id"]
    with cast.app.test_request_context(headers=cast.ida.headers):
        from plytide.storage import clinic_migrations
        from plytide.storage.sqlite import write

        migrate = next(made for name, made in vars(clinic_migrations).items() if name.endswith("baseline_not_entered"))

        def back_then() -> None:
            with write(clinic_db()) as db:
                for deed in ("insert", "update", "delete"):  # nor were there any proofs then
                    db.conn.execute(f"DROP TRIGGER touched_socket_{deed}")
                db.conn.execute("ALTER TABLE socket DROP COLUMN baseline_unsure")
                migrate(db)

        guarded(back_then, STAFF)()

    def said() -> tuple[Any, bool]:
        story = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}").get_json()
        one = next(each for each in story["sockets"] if each["id"] == socket)
        return one["stack_at_fitting"], one["baseline_unsure"]

    assert said() == ([], True)
    page = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}/visit-page").get_json()
    assert "no sock then, or not entered" in page["socket"]
    mended = cast.ida.patch(f"/api/clinic/sockets/{socket}", {"stack_at_fitting": []})
    assert mended.status_code == 200 and said() == ([], False)
    cast.ida.patch(f"/api/clinic/sockets/{socket}", {"stack_at_fitting": None})
    assert said() == (None, False)


@pytest.mark.parametrize(("silent", "code", "why"), [(0, "same", None), (20, "unknown", "quiet")])
def test_the_phone_says_of_a_silent_limb_that_nothing_is_known(
    cast: Cast, today: date, silent: int, code: str, why: str | None
) -> None:
    days = [today - timedelta(days=n) for n in range(silent, silent + 50)]
    cast.anouk.sync(*(cast.anouk.checkin(each) for each in days))
    row = row_of(cast, cast.anouk.limb_id)
    trend = cast.anouk.phone.get("/api/me").get_json()["seen"][cast.anouk.limb_id]["trend"]
    assert (trend["words_code"], trend["why"]) == (code, why)
    assert (trend["change_28d_pct"] is None) is bool(silent)
    assert (row["spark"] == []) is bool(silent)
    assert (row["state"] == "gathering") is bool(silent)
