"""Second factors: app codes (RFC 6238), recovery codes, and what a thief with the password or the files gets.

OWASP ASVS 5.0: 6.3.3 (a second factor), 6.5.1 (each proof once), 6.5.2 (recovery codes hashed), 6.3.1 (guessing).
"""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime
from typing import Any

import pyotp
import pytest

from plytide.auth.second_factor import app_code_holds
from plytide.http.app import create_app
from plytide.storage.files.secrets_key import KEY_FILE, seal
from plytide.storage.registry import second_factor
from plytide.storage.registry.registry import Registry
from tests.actors import PASSWORD, Actor, Cast, Clock


def sign_in(cast: Cast, login: str = "ida", **more: Any) -> Any:
    return cast.nobody.post("/api/clinic/session", {"login": login, "password": PASSWORD} | more)


def refusal(answer: Any) -> tuple[int, str]:
    return answer.status_code, answer.get_json()["error"]["code"]


def set_up(cast: Cast, staff: Actor) -> tuple[pyotp.TOTP, list[str]]:
    begun = staff.made("/api/clinic/second-factor/app", {"password": PASSWORD})
    app = pyotp.TOTP(begun["secret"])
    code = app.at(cast.clock.now)
    return app, staff.made("/api/clinic/second-factor/app/confirm", {"code": code})["recovery_codes"]


def test_an_app_that_was_never_confirmed_is_not_asked_for(cast: Cast) -> None:
    cast.ida.made("/api/clinic/second-factor/app", {"password": PASSWORD})
    assert sign_in(cast).status_code == 200


def test_once_set_up_the_password_alone_no_longer_opens(cast: Cast, clock: Clock) -> None:
    app, _ = set_up(cast, cast.ida)
    clock.forward(seconds=30)
    assert refusal(sign_in(cast)) == (401, "code-needed")
    assert list(sign_in(cast).get_json()["error"]["fields"]) == ["code"]
    assert refusal(sign_in(cast, code="000000")) == (401, "code")
    assert sign_in(cast, code=app.at(clock.now)).status_code == 200
    assert sign_in(cast, login="juno").status_code == 200  # who has set up none is asked for none


def test_a_code_works_once_and_so_does_none_before_it(cast: Cast, clock: Clock) -> None:
    app, _ = set_up(cast, cast.ida)
    assert refusal(sign_in(cast, code=app.at(clock.now))) == (401, "code")  # the one that confirmed it
    clock.forward(seconds=60)
    code = app.at(clock.now)
    assert sign_in(cast, code=code).status_code == 200
    assert refusal(sign_in(cast, code=code)) == (401, "code")
    assert refusal(sign_in(cast, code=app.at(clock.now.timestamp() - 30))) == (401, "code")


def test_a_code_is_good_for_half_a_minute_of_wrong_clock_and_no_more(cast: Cast, clock: Clock) -> None:
    app, _ = set_up(cast, cast.ida)
    clock.forward(minutes=10)
    now = clock.now.timestamp()
    assert refusal(sign_in(cast, code=app.at(now - 61))) == (401, "code")
    assert refusal(sign_in(cast, code=app.at(now + 61))) == (401, "code")
    assert sign_in(cast, code=f" {app.at(now - 30)[:3]} {app.at(now - 30)[3:]}").status_code == 200


def test_codes_are_those_of_rfc_6238(cast: Cast) -> None:
    """RFC 6238 appendix B, SHA-1, the last six of the eight digits it prints."""
    registry = Registry(cast.app.config["SETTINGS"].data_dir)
    whose = (registry.clinic_files()[0][0], "somebody")
    secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"  # base 32 of its "12345678901234567890"
    data = cast.app.config["SETTINGS"].data_dir
    for seconds, printed in (
        (59, "94287082"),
        (1111111109, "07081804"),
        (1234567890, "89005924"),
        (2000000000, "69279037"),
    ):
        second_factor.drop_seed(registry.db, whose)
        second_factor.set_seed(registry.db, whose, seal(data, secret.encode()))
        at = datetime.fromtimestamp(seconds, UTC)
        assert app_code_holds(registry.db, data, whose, printed[2:], at)
    registry.close()


def test_each_recovery_code_opens_once_and_new_ones_end_the_old(cast: Cast) -> None:
    _, codes = set_up(cast, cast.ida)
    assert len(set(codes)) == 10
    assert sign_in(cast, code=codes[0].lower().replace("-", " ")).status_code == 200
    assert refusal(sign_in(cast, code=codes[0])) == (401, "code")
    assert cast.ida.get("/api/clinic/second-factor").get_json()["recovery_left"] == 9
    fresh = cast.ida.made("/api/clinic/second-factor/recovery", {"password": PASSWORD})["recovery_codes"]
    assert refusal(sign_in(cast, code=codes[1])) == (401, "code")
    assert sign_in(cast, code=fresh[1]).status_code == 200


def test_one_persons_codes_do_not_open_for_another(cast: Cast) -> None:
    _, idas = set_up(cast, cast.ida)
    set_up(cast, cast.juno)
    assert refusal(sign_in(cast, login="juno", code=idas[0])) == (401, "code")


def test_guessing_codes_with_the_right_password_is_slowed_down(cast: Cast, clock: Clock) -> None:
    app, _ = set_up(cast, cast.ida)
    clock.forward(seconds=60)
    for _ in range(5):
        sign_in(cast)  # asking without a code neither counts nor sets the count back
        assert refusal(sign_in(cast, code="123456")) == (401, "code")
    blocked = sign_in(cast, code=app.at(clock.now))
    assert refusal(blocked) == (429, "too-many-tries") and int(blocked.headers["Retry-After"]) >= 1


def test_the_files_without_the_key_give_no_seed_and_no_recovery_code(cast: Cast) -> None:
    begun = cast.ida.made("/api/clinic/second-factor/app", {"password": PASSWORD})
    code = pyotp.TOTP(begun["secret"]).at(cast.clock.now)
    codes = cast.ida.made("/api/clinic/second-factor/app/confirm", {"code": code})["recovery_codes"]
    data = cast.app.config["SETTINGS"].data_dir
    kept = b"".join(path.read_bytes() for path in data.rglob("*.db*"))
    for secret in (begun["secret"], codes[0], codes[0].replace("-", "")):
        assert secret.encode() not in kept
    assert (data / KEY_FILE).stat().st_mode & 0o077 == 0
    (data / KEY_FILE).unlink()
    cast.clock.forward(seconds=60)
    lost = sign_in(cast, code=pyotp.TOTP(begun["secret"]).at(cast.clock.now))
    assert refusal(lost) == (503, "no-key")
    assert sign_in(cast, code=codes[0]).status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "second-factor/app",
        "second-factor/app/remove",
        "second-factor/recovery",
        "passkeys/options",
        "passkeys/any/remove",
    ],
)
def test_the_way_in_is_changed_only_with_the_password_again(cast: Cast, path: str) -> None:
    answer = cast.ida.post(f"/api/clinic/{path}", {"password": "not the password"})
    assert refusal(answer) == (403, "password")


def test_a_manager_frees_somebody_who_lost_everything(cast: Cast) -> None:
    set_up(cast, cast.ida)
    ida = cast.ida.get("/api/clinic/session").get_json()["staff"]["id"]
    assert cast.juno.delete(f"/api/clinic/staff/{ida}/second-factor").status_code == 403
    assert cast.nora.delete(f"/api/clinic/staff/{ida}/second-factor").status_code == 200
    assert cast.ida.get("/api/clinic/session").status_code == 401  # whoever had that session is out
    assert sign_in(cast).status_code == 200


def test_sessions_are_listed_and_others_ended(cast: Cast) -> None:
    elsewhere = sign_in(cast).headers["Set-Cookie"].split(";", 1)[0]
    there = Actor(cast.app, {"Cookie": elsewhere})
    listed = cast.ida.get("/api/clinic/sessions").get_json()["sessions"]
    assert [row["this"] for row in listed].count(True) == 1 and len(listed) >= 2
    assert not any(secret in str(listed) for secret in (elsewhere.split("=")[1], cast.ida.headers["X-CSRF-Token"]))
    other = next(row["id"] for row in there.get("/api/clinic/sessions").get_json()["sessions"] if row["this"])
    assert cast.juno.delete(f"/api/clinic/sessions/{other}").status_code == 404
    assert cast.ida.delete(f"/api/clinic/sessions/{other}").status_code == 200
    assert there.get("/api/clinic/session").status_code == 401
    assert sign_in(cast).status_code == 200
    assert cast.ida.made("/api/clinic/sessions/end-others", {})["ended"] >= 1
    assert [row["this"] for row in cast.ida.get("/api/clinic/sessions").get_json()["sessions"]] == [True]


def test_a_new_password_ends_all_other_sessions_and_the_old_password(cast: Cast) -> None:
    there = Actor(cast.app, {"Cookie": sign_in(cast).headers["Set-Cookie"].split(";", 1)[0]})
    short = cast.ida.put("/api/clinic/password", {"password": PASSWORD, "new_password": "short"})
    assert short.status_code == 422 and list(short.get_json()["error"]["fields"]) == ["new_password"]
    fresh = "four geese over the marsh"
    assert cast.ida.put("/api/clinic/password", {"password": PASSWORD, "new_password": fresh}).status_code == 200
    assert there.get("/api/clinic/session").status_code == 401
    assert cast.ida.get("/api/clinic/session").status_code == 200
    assert sign_in(cast).status_code == 401
    assert cast.nobody.post("/api/clinic/session", {"login": "ida", "password": fresh}).status_code == 200


def test_who_has_left_is_out_at_once(cast: Cast) -> None:
    juno = cast.juno.get("/api/clinic/session").get_json()["staff"]["id"]
    assert cast.nora.delete(f"/api/clinic/staff/{juno}").status_code == 200
    assert cast.juno.get("/api/clinic/session").status_code == 401
    assert refusal(sign_in(cast, login="juno")) == (401, "sign-in")
    assert juno not in {one["id"] for one in cast.nora.get("/api/clinic/staff").get_json()["staff"]}
    again = {"login": "juno", "name": "J", "role": "assistant", "password": PASSWORD}
    assert cast.nora.post("/api/clinic/staff", again).status_code == 422  # a name is never given twice


def test_where_a_second_factor_is_required_nothing_else_opens_before_it_is_set_up(cast: Cast) -> None:
    strict = create_app(dataclasses.replace(cast.app.config["SETTINGS"], require_second_factor=True))
    ida = Actor(strict, cast.ida.headers)
    for path in ("worklist", f"limbs/{cast.anouk.limb_id}", f"people/{cast.anouk.id}/export.json"):
        assert refusal(ida.get(f"/api/clinic/{path}")) == (403, "second-factor-needed")
    assert ida.get("/api/clinic/session").status_code == 200
    set_up(cast, ida)
    assert ida.get("/api/clinic/worklist").status_code == 200


def test_a_wrong_code_after_the_right_password_leaves_a_line(cast: Cast) -> None:
    set_up(cast, cast.ida)
    sign_in(cast, code="000000")
    lines = cast.nora.get("/api/clinic/audit").get_json()["lines"]
    assert ("session.refused", "wrong code") in {(line["what"], line["detail"]) for line in lines}
