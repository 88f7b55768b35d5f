"""Photos of skin: kept once, drawn anew without anything but the picture, seen only by those who may."""

from __future__ import annotations

import io
import zlib
from datetime import date
from typing import Any

import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from tests.actors import Actor, Cast, Wearer, checkin

SECRET = "52.3702N-canary"


def jpeg(size: tuple[int, int] = (640, 480), **more: Any) -> bytes:
    """A photo with a place, a comment, a turned sensor and trailing bytes, as a phone might send it."""
    exif = Image.Exif()
    exif[0x010E] = SECRET  # ImageDescription
    exif[0x0112] = 6  # turned by a quarter
    exif.get_ifd(0x8825)[29] = SECRET  # GPSDateStamp
    out = io.BytesIO()
    picture = Image.new("RGB", size, (180, 120, 110))
    picture.save(out, "JPEG", exif=exif, comment=SECRET.encode(), **more)
    return out.getvalue() + SECRET.encode()


def put(wearer: Wearer, data: bytes, photo_id: str = "p1", **more: str) -> Any:
    query = {"limb_id": wearer.limb_id, "checkin_id": "c1", **more}
    return wearer.phone.call("PUT", f"/api/photos/{photo_id}", data=data, content_type="image/jpeg", query_string=query)


def test_a_photo_is_kept_once_and_holds_nothing_but_the_picture(cast: Cast) -> None:
    sent = jpeg()
    assert SECRET.encode() in sent
    assert [put(cast.anouk, sent).get_json()["status"] for _ in range(2)] == ["kept", "already"]
    for seen in (cast.anouk.phone.get("/api/photos/p1"), cast.ida.get("/api/clinic/photos/p1")):
        assert (seen.status_code, seen.mimetype) == (200, "image/jpeg")
        assert SECRET.encode() not in seen.data
        picture = Image.open(io.BytesIO(seen.data))
        assert picture.size == (480, 640)  # upright
        assert not picture.getexif() and "comment" not in picture.info and "exif" not in picture.info
    listed = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}/photos").get_json()["photos"]
    assert [(one["id"], one["checkin_id"]) for one in listed] == [("p1", "c1")]


def test_text_hidden_in_a_png_does_not_come_through(cast: Cast) -> None:
    info, out = PngInfo(), io.BytesIO()
    info.add_text("Comment", SECRET)
    Image.new("RGBA", (20, 30)).save(out, "PNG", pnginfo=info)
    assert put(cast.anouk, out.getvalue()).status_code == 201
    assert SECRET.encode() not in cast.anouk.phone.get("/api/photos/p1").data


def test_a_large_photo_is_made_smaller(cast: Cast) -> None:
    put(cast.anouk, jpeg((4000, 3000), quality=20))
    assert max(Image.open(io.BytesIO(cast.anouk.phone.get("/api/photos/p1").data)).size) == 1600


def test_only_those_who_may_see_a_photo(cast: Cast) -> None:
    put(cast.anouk, jpeg())
    assert cast.bram.phone.get("/api/photos/p1").status_code == 404
    assert cast.esme.phone.get("/api/photos/p1").status_code == 404
    assert cast.teodor.get("/api/clinic/photos/p1").status_code == 404
    assert cast.nobody.get("/api/photos/p1").status_code == 401
    assert cast.teodor.get(f"/api/clinic/limbs/{cast.anouk.limb_id}/photos").status_code == 404


def test_a_photo_for_a_limb_that_is_not_the_phones_is_refused(cast: Cast) -> None:
    assert put(cast.anouk, jpeg(), limb_id=cast.bram.limb_id).status_code == 404
    assert put(cast.bram, jpeg()).status_code == 201
    assert put(cast.anouk, jpeg()).status_code == 422  # the id is taken, and nothing of it is shown


def bomb() -> bytes:
    """A PNG that says it is 50,000 × 50,000."""
    head = b"\x89PNG\r\n\x1a\n"
    ihdr = b"IHDR" + (50_000).to_bytes(4, "big") * 2 + b"\x08\x02\x00\x00\x00"
    return head + (13).to_bytes(4, "big") + ihdr + zlib.crc32(ihdr).to_bytes(4, "big")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"hello",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"GIF89a",
        b"%PDF-1.7",
        bomb(),
        b"\xff\xd8\xff" + b"\0" * 50,
    ],
    ids=["empty", "text", "svg", "gif", "pdf", "bomb", "broken"],
)
def test_what_is_no_photo_is_refused_by_its_content(cast: Cast, data: bytes) -> None:
    refused = put(cast.anouk, data)
    assert (refused.status_code, refused.get_json()["error"]["code"]) == (422, "not-a-picture")
    assert cast.anouk.phone.get("/api/photos/p1").status_code == 404


def test_a_photo_over_the_limit_is_a_413(cast: Cast) -> None:
    assert put(cast.anouk, b"\xff\xd8" + b"\0" * 2_100_000).status_code == 413


@pytest.mark.parametrize("name", ["..%2Fetc", "a%00b", "a b", "x" * 65])
def test_a_photo_can_not_be_named_as_a_path(cast: Cast, name: str) -> None:
    assert put(cast.anouk, jpeg(), photo_id=name).status_code in (404, 422)


def test_consent_is_kept_word_by_word_and_taken_back(cast: Cast, today: date) -> None:
    for agreed in (True, False):
        said = {"person_id": cast.anouk.id, "words": "consent.1", "agreed": agreed, "said_at": f"{today}T08:00:00Z"}
        assert cast.anouk.phone.post("/api/consents", said).status_code == 201
    kept = cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/consents").get_json()["consents"]
    assert [one["agreed"] for one in kept] == [False, True]
    foreign = {"person_id": cast.bram.id, "words": "consent.1", "agreed": True, "said_at": "2025-09-15T08:00:00Z"}
    assert cast.anouk.phone.post("/api/consents", foreign).status_code == 404
    assert Actor(cast.app).post("/api/consents", foreign).status_code == 401


def test_a_photo_of_an_entry_of_another_limb_is_refused_and_the_right_call_is_taken(cast: Cast, today: date) -> None:
    left, right = cast.dov.limb_ids
    log = checkin(right, today, photos=["p9"])
    assert cast.dov.sync(log).get_json()["receipts"][0]["status"] == "kept"
    wrong = put(cast.dov, jpeg(), "p9", limb_id=left, checkin_id=log["id"])
    assert (wrong.status_code, list(wrong.get_json()["error"]["fields"])) == (422, ["checkin_id"])
    assert put(cast.dov, jpeg(), "p9", limb_id=right, checkin_id=log["id"]).status_code == 201
    assert put(cast.dov, jpeg(), "p10", limb_id=left, checkin_id="not-come-yet").status_code == 201


def shown(cast: Cast, limb_id: str) -> dict[str, list[str]]:
    days = cast.ida.get(f"/api/clinic/limbs/{limb_id}").get_json()["days"]
    return {one["id"]: one["photos"] for day in days for one in day["checkins"]}


def test_the_clinic_sees_with_an_entry_only_photos_that_were_filed_to_its_limb_and_to_it(
    cast: Cast, today: date
) -> None:
    left, right = cast.dov.limb_ids
    of_left = checkin(left, today, photos=["own", "other-leg", "other-person", "other-entry", "on-its-way"])
    fixed = checkin(left, today, photos=["own", "later"], replaces=of_left["id"])
    beside, of_right = checkin(left, today), checkin(right, today)
    put(cast.dov, jpeg(), "other-leg", limb_id=right, checkin_id=of_left["id"])  # before the entry came
    put(cast.anouk, jpeg(), "other-person", checkin_id=of_left["id"])
    put(cast.dov, jpeg(), "own", limb_id=left, checkin_id=of_left["id"])
    cast.dov.sync(of_left, beside, of_right)
    put(cast.dov, jpeg(), "other-entry", limb_id=left, checkin_id=beside["id"])
    assert shown(cast, left)[of_left["id"]] == ["own"]
    cast.dov.sync(fixed)
    put(cast.dov, jpeg(), "later", limb_id=left, checkin_id=fixed["id"])
    assert shown(cast, left)[fixed["id"]] == ["own", "later"]  # a correction keeps the photos of what it corrects
