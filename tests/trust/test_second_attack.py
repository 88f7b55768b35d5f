"""What a second attack found: photos of many pixels, guesses at once, clocks that jump, marks out of range, doors half
open.
"""

from __future__ import annotations

import io
import subprocess
import sys
import threading
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
from PIL import Image

from plytide.auth.password_hash import password_holds
from plytide.export import pictures
from plytide.export.csv_files import guarded
from plytide.export.pictures import NotAPicture, cleaned
from plytide.settings import Settings
from plytide.storage import device as devices
from plytide.work import reminders
from plytide.work.setup import unlock
from tests.actors import PASSWORD, Actor, Cast, Clock
from tests.http.test_photos import put

# Photos


def picture(kind: str, width: int, height: int, **more: Any) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), (180, 120, 110)).save(out, kind, **more)
    return out.getvalue()


MEASURE = """
import resource, sys
from plytide.export.pictures import NotAPicture, cleaned
data = sys.stdin.buffer.read()
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try:
    print(cleaned(data)[1])
except NotAPicture as fault:
    print(fault)
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
"""


@pytest.mark.parametrize(
    ("kind", "more", "says"),
    [("JPEG", {}, "(1600, 1073)"), ("JPEG", {"progressive": True}, "too large: 7700"), ("PNG", {}, "too large: 7700"),
     ("WEBP", {}, "too large: 7700")],
)  # fmt: skip
def test_a_small_file_of_many_pixels_takes_little_memory(kind: str, more: dict[str, Any], says: str) -> None:
    data = picture(kind, 7700, 5164, **more)
    done = subprocess.run([sys.executable, "-c", MEASURE], input=data, capture_output=True, check=True)
    said, grown = done.stdout.decode().splitlines()
    assert says in said
    assert int(grown) < 150, f"{grown} MB"


@pytest.mark.parametrize("turned", range(1, 9))
def test_a_turned_photo_comes_out_upright(turned: int) -> None:
    """As Pillow's own way of putting it upright, which needs the picture whole."""
    from PIL import ImageOps

    drawn = Image.radial_gradient("L").resize((300, 200)).convert("RGB")
    drawn.paste((255, 0, 0), (0, 0, 60, 30))
    exif = Image.Exif()
    exif[0x0112] = turned
    out = io.BytesIO()
    drawn.save(out, "JPEG", exif=exif, quality=95)
    expected = ImageOps.exif_transpose(Image.open(io.BytesIO(out.getvalue()))).convert("RGB")
    got = Image.open(io.BytesIO(cleaned(out.getvalue())[0]))
    assert got.size == expected.size
    for corner in ((5, 5), (got.width - 6, 5), (5, got.height - 6), (got.width - 6, got.height - 6)):
        assert max(abs(a - b) for a, b in zip(got.getpixel(corner), expected.getpixel(corner), strict=True)) < 24


def test_photos_are_decoded_one_at_a_time_and_who_waits_too_long_is_told(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    from plytide.http import photos

    monkeypatch.setattr(photos, "PATIENCE", 0.01)
    with photos.DECODING:
        answer = put(cast.anouk, picture("JPEG", 20, 30))
    assert (answer.status_code, answer.get_json()["error"]["code"]) == (503, "busy") and answer.headers["Retry-After"]
    assert put(cast.anouk, picture("JPEG", 20, 30)).status_code == 201
    with pytest.raises(NotAPicture, match="at most 12 million"):
        cleaned(picture("PNG", 4000, 3001))
    assert pictures.MOST_PIXELS_WHOLE == 12_000_000


# Guesses


@pytest.fixture
def slow_judge(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """All guesses are under way before the first is judged, as on a loaded machine."""
    judged: list[str] = []
    barrier = threading.Barrier(2)

    def judge(row: Any, password: str) -> bool:
        judged.append(password)
        if len(judged) <= 1:
            barrier.wait(timeout=300)
        return password_holds(row, password)

    monkeypatch.setattr("plytide.auth.session.password_holds", judge)
    judged_barrier.append(barrier)
    yield judged
    judged_barrier.clear()


judged_barrier: list[threading.Barrier] = []


def test_of_many_guesses_at_once_only_those_are_judged_that_may_be(cast: Cast, slow_judge: list[str]) -> None:
    """The first is held in judgement until all the others were answered or turned away."""
    answers: list[int] = []

    def guess(n: int) -> None:
        said = {"login": "ida", "password": f"a guess of mine {n}"}
        answers.append(Actor(cast.app).post("/api/clinic/session", said).status_code)

    first = threading.Thread(target=guess, args=(0,))
    first.start()
    while not slow_judge:
        pass
    for n in range(1, 40):
        guess(n)
    judged_barrier[0].wait(timeout=300)
    first.join()
    assert len(slow_judge) == 5 and answers.count(429) == 35


def test_a_right_sign_in_and_a_right_code_leave_no_count(cast: Cast, clock: Clock) -> None:
    for _ in range(12):
        assert cast.nobody.post("/api/clinic/session", {"login": "ida", "password": PASSWORD}).status_code == 200
        own = {"mail": "ida@clinic.example", "password": PASSWORD}
        assert cast.ida.put("/api/clinic/mail", own).status_code == 200


# Clocks


def test_a_clock_that_was_ahead_for_a_while_locks_nobody_out_and_keeps_no_session(
    cast: Cast, settings: Settings, clock: Clock
) -> None:
    clock.forward(days=400)
    for n in range(8):
        cast.nobody.post("/api/clinic/session", {"login": "ida", "password": f"wrong {n}"})
        clock.forward(seconds=40)
    session = cast.nobody.post("/api/clinic/session", {"login": "juno", "password": PASSWORD})
    juno = Actor(cast.app, {"Cookie": session.headers["Set-Cookie"].split(";")[0]})
    assert juno.get("/api/clinic/session").status_code == 200
    clock.forward(days=-400)
    assert cast.nobody.post("/api/clinic/session", {"login": "ida", "password": PASSWORD}).status_code == 200
    clock.forward(minutes=31)
    assert juno.get("/api/clinic/session").status_code == 401


def test_unlock_lifts_the_wait(cast: Cast, settings: Settings, clock: Clock) -> None:
    said = {"login": "ida", "password": PASSWORD}
    for n in range(9):
        cast.nobody.post("/api/clinic/session", {"login": "ida", "password": f"wrong {n}"})
    assert cast.nobody.post("/api/clinic/session", said).status_code == 429
    unlock(settings.data_dir, "Ida", clock())
    assert cast.nobody.post("/api/clinic/session", said).status_code == 200


# Marks and limits


@pytest.mark.parametrize("limit", ["0" * 5000 + "1", "0001", "201", "00000000200", "1e2", "٣", "-1", "", "9" * 400])
@pytest.mark.parametrize("path", ["/api/clinic/worklist", "/api/clinic/people", "/api/clinic/audit"])
def test_a_limit_is_a_plain_number(cast: Cast, path: str, limit: str) -> None:
    answer = cast.nora.get(path, query_string={"limit": limit})
    assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, ["limit"])


@pytest.mark.parametrize(
    "mark",
    [f"[{9 * 10**40}, \"a\", \"b\"]", "[1e999, 1, 2]", "[null, {}, []]", "{}", "[" * 3000, "7", '[1, 2, 3]',
     '[true, "a", "b"]',
     f"[-{10**18}0, \"a\", \"b\"]", "9" * 300],
)  # fmt: skip
def test_a_page_mark_that_is_none_of_ours_is_refused(cast: Cast, mark: str) -> None:
    for path in ("/api/clinic/worklist", "/api/clinic/audit")[: 1 if mark == "7" else 2]:  # a line of the audit
        answer = cast.nora.get(path, query_string={"next": mark})
        assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, ["next"]), path


# Doors


@pytest.mark.parametrize("origin", ["https://elsewhere.example", "null", "http://localhost.elsewhere.example"])
def test_an_older_browser_is_refused_by_its_origin(cast: Cast, origin: str) -> None:
    said = {"login": "ida", "password": PASSWORD}
    answer = cast.nobody.post("/api/clinic/session", said, headers={"Origin": origin})
    assert (answer.status_code, answer.get_json()["error"]["code"]) == (403, "cross-site")
    for own in ("http://localhost", None):
        headers = {"Origin": own} if own else {}
        assert cast.nobody.post("/api/clinic/session", said, headers=headers).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["localhost.", "0x7f.1", "127.1", "2130706433", "0177.0.0.1", "127.0.0.1.", "a.localhost.", "[::1]", "x.local."],
)
def test_no_writing_of_this_machine_is_a_push_service(host: str) -> None:
    assert not reminders.may_push_to(f"https://{host}/1", False)


def test_a_name_that_leads_into_our_own_network_gets_no_push(settings: Settings) -> None:
    assert not reminders.is_public("https://localhost/1")
    with pytest.raises(ValueError, match="public"):
        reminders.one({"endpoint": "https://localhost/1", "keys": {}}, "en", settings)


@pytest.mark.parametrize(
    "before", ["\u200b", "\ufeff", "\u2060", "\u200e", "\u00ad", "\x1f", "\u3164", " \u200b ", "\u180e"]
)
@pytest.mark.parametrize("formula", ["=1+1", "+1", "-1", "@SUM(A1)", "\uff1d1"])
def test_a_formula_behind_what_nobody_sees_is_text(before: str, formula: str) -> None:
    assert guarded(before + formula, "spreadsheet") == "'" + before + formula
    assert guarded(f"a{before}{formula}", "spreadsheet") == f"a{before}{formula}"


@pytest.mark.parametrize(
    "said_at", ["yesterday", "2025-09-15", "2025-13-01T00:00:00Z", "9999-01-01T00:00:00Z", "２025-09-15T10:00:00Z"]
)
def test_a_consent_says_when_as_a_moment(cast: Cast, said_at: str) -> None:
    said = {"person_id": cast.anouk.id, "words": "consent-1-en", "agreed": True, "said_at": said_at}
    answer = cast.anouk.phone.post("/api/consents", said)
    assert (answer.status_code, list(answer.get_json()["error"]["fields"])) == (422, ["said_at"])
    assert cast.anouk.phone.post("/api/consents", said | {"said_at": "2025-09-15T12:00:00.000Z"}).status_code == 201


# Enrolment over two files


def test_a_server_that_dies_while_a_phone_joins_uses_up_no_code(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = {"role": "wearer", "person_ids": [cast.anouk.id]}
    code = cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/enrolment-codes", wanted)["code"]
    real = devices.add_device

    class Killed(BaseException):
        pass

    def dies(*args: Any) -> Any:
        raise Killed

    monkeypatch.setattr(devices, "add_device", dies)
    with pytest.raises(Killed):
        cast.nobody.post("/api/enrol", {"code": code, "label": "New"})
    monkeypatch.setattr(devices, "add_device", real)
    with monkeypatch.context() as later:
        later.setattr("plytide.storage.registry.registry.Registry.use_code", dies)
        with pytest.raises(Killed):
            cast.nobody.post("/api/enrol", {"code": code, "label": "New"})
    assert cast.nobody.post("/api/enrol", {"code": code, "label": "New"}).status_code == 200
    assert cast.nobody.post("/api/enrol", {"code": code, "label": "New"}).get_json()["error"]["code"] == "code-used"
    there = cast.ida.get(f"/api/clinic/people/{cast.anouk.id}/devices").get_json()["devices"]
    assert [one["label"] for one in there].count("New") == 1  # no ghost of the tries before
    assert date.fromisoformat(there[0]["enrolled_at"][:10]) <= (cast.clock() + timedelta(days=1)).date()
