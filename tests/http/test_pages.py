"""The visit page and the payer’s page over HTTP."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest

from tests.actors import Cast
from tests.http.anouk import DECISION, path


@pytest.mark.parametrize("page", ["visit-page", "payer-page"])
@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("long", [False, True], ids=["usual words", "the longest words"])
def test_a_long_record_fits_one_sheet_and_the_longest_words_go_on_on_the_next(
    cast: Cast, today: date, page: str, paper: str, long: bool
) -> None:
    for n in range(120):
        day = today - timedelta(days=n)
        skin = [{"place": "end of the limb", "finding": "blister", "redness_minutes": 40}] if n < 5 else []
        cast.anouk.sync(
            cast.anouk.checkin(
                day,
                note="A long note with “quotes” and ünïcode ☂. " * (20 if long else 1),
                skin=skin,
                falls=1 if n % 9 == 0 else None,
                comfort=2 if n < 7 else 8,
                hours_worn=3 if n < 7 else 12,
                weight_kg=99 if n < 3 else 80,
                stack=[{"ply": 5, "make": "single"}] * (4 if n < 4 else 1),
            )
        )
    for n in range(4):
        cast.ida.made(
            path(cast, "/decisions"),
            {
                **DECISION,
                "reasons": [f"Reason {n}. " * (12 if long else 1)] * 3,
                "note": "Why. " * (300 if long else 5),
            },
        )
    answer = cast.ida.get(path(cast, f"/{page}.pdf"), query_string={"paper": paper})
    assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
    assert answer.data.startswith(b"%PDF-")
    sheets = len(re.findall(rb"/Type /Page\b(?!s)", answer.data))
    # Nine matters at once: on Letter, which is shorter, one sheet would drop the last lines.
    most = {("visit-page", "a4"): (1, 3), ("visit-page", "letter"): (2, 3)}.get((page, paper), (1, 1))
    assert sheets == most[long]
    width = b"595.28" if paper == "a4" else b"612.00"
    assert b"/MediaBox [0 0 " + width in answer.data


def test_the_visit_page_reads_what_changed_and_what_to_ask(cast: Cast, today: date) -> None:
    said = cast.anouk.checkin(today, falls=1)
    cast.anouk.sync(said)
    page = cast.ida.get(path(cast, "/visit-page")).get_json()
    assert page["who"].startswith("Anouk, 57 years")
    assert page["changed"][0] == {"text": "A fall on 15 September.", "evidence": [said["id"]]}
    assert "How did it happen? Any injury?" in page["ask"]


def test_the_payers_page_has_the_usual_heads_and_says_who_reported(cast: Cast, today: date) -> None:
    """Heads: CMS LCD L33787 wording, confirmed (secondary)."""
    cast.anouk.sync(cast.anouk.checkin(today))
    page = cast.ida.get(path(cast, "/payer-page")).get_json()
    assert [head["head"] for head in page["heads"]] == [
        "Changes in the residual limb",
        "Functional need",
        "Wear and damage",
        "Basis of this page",
    ]
    assert "patient-reported" in page["heads"][-1]["lines"][0]["text"]


def test_a_childs_growth_shows_signs_and_the_familys_visits(cast: Cast, today: date) -> None:
    said = cast.bram.checkin(today, signs=["cannot_get_fully_in"], weight_kg=24.5)
    cast.bram.sync(said)
    cast.ida.made(f"/api/clinic/people/{cast.bram.id}/visits", {"on": "2025-10-01", "what": "Review"})
    growth = cast.ida.get(f"/api/clinic/limbs/{cast.bram.limb_id}/growth").get_json()
    assert growth["child"] is True
    assert growth["signs"] == [{"date": today.isoformat(), "id": said["id"], "signs": ["cannot_get_fully_in"]}]
    assert growth["weight"] == [{"date": today.isoformat(), "kg": 24.5}]
    assert [(visit["on"], visit["person"]) for visit in growth["family_visits"]] == [("2025-10-01", "Bram")]
