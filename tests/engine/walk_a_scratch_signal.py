"""Run by `test_register` inside a copy of the tree that holds a signal and a language nobody else has heard of.

The signal's file is `engine/signals/tired.py`; the language's are `engine/languages/tlh.py` and
`web/phone/words/tlh.js`. Nothing else of the copy was changed.
"""

from __future__ import annotations

import base64
from dataclasses import replace
from datetime import date

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from plytide.engine.languages import because_in
from plytide.settings import Settings
from plytide.work import background
from tests.actors import Cast, Clock
from tests.post import listening

SAID = "Tiredness was noted on 15 September."


def test_a_signal_of_one_file_reaches_every_place_a_signal_is_shown(
    cast: Cast, settings: Settings, clock: Clock, today: date
) -> None:
    ida, limb = cast.ida, f"/api/clinic/limbs/{cast.anouk.limb_id}"
    ida.patch("/api/clinic/settings", {"mail": "desk@clinic.example"})
    clock.forward(hours=-8)  # before the digest's hour
    cast.anouk.sync(cast.anouk.checkin(today, note="so tired"))
    with listening() as (box, url):
        background.sweep(replace(settings, smtp_url=url))
        clock.forward(minutes=3)
        background.sweep(replace(settings, smtp_url=url))
        assert len(box.mail) == 1

    assert ida.get("/api/clinic/session").get_json()["signal_words"]["tired"] == "tiredness"
    row = next(row for row in ida.get("/api/clinic/worklist").get_json()["limbs"] if row["urgency"] == 3)
    assert row["why"] == SAID and [one["kind"] for one in row["signals"]] == ["tired"]
    page = ida.get(limb).get_json()
    assert [one["because"] for one in page["signals"]] == [SAID]
    (signal,) = ida.get(f"{limb}/assessment").get_json()["signals"]
    assert signal["sentences"] == [{"code": "tired.noted", "values": {"on": "2025-09-15"}}]

    visit = ida.get(f"{limb}/visit-page").get_json()
    assert "How do you sleep?" in str(visit) and "Colour of the face." in str(visit) and SAID in str(visit)
    payer = ida.get(f"{limb}/payer-page").get_json()
    assert SAID in str(payer)
    for file in ("visit-page.pdf", "payer-page.pdf", "bundle.fhir.json", "checkins.csv"):
        assert ida.get(f"{limb}/{file}").status_code == 200, file
    assert ida.post(f"/api/clinic/signals/{page['signals'][0]['id']}/acknowledge", {}).status_code == 200


def test_a_language_of_one_table_says_it_and_leaves_to_english_what_it_lacks() -> None:
    noted, other = ({"code": code, "values": {"on": "2025-09-15"}} for code in ("tired.noted", "fall.one"))
    assert because_in({"because": SAID, "sentences": [noted]}, "tlh") == "Doy'! 15. jar 9."
    assert because_in({"because": "In English.", "sentences": [noted, other]}, "tlh") == "In English."


def test_a_language_of_one_word_file_is_reminded_in(cast: Cast, settings: Settings) -> None:
    cast.app.config["SETTINGS"] = replace(settings, push_local=True)
    point = (
        ec.derive_private_key(1, ec.SECP256R1())
        .public_key()
        .public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    )
    keys = {"p256dh": base64.urlsafe_b64encode(point).decode().rstrip("="), "auth": "A" * 22}
    subscription = {"endpoint": "http://127.0.0.1:9/push/1", "keys": keys, "expirationTime": None}
    said = {"subscription": subscription, "at": ["20:00"], "zone": "UTC", "language": "tlh"}
    answer = cast.anouk.phone.put("/api/push", said)
    assert answer.status_code == 200, answer.get_json()
