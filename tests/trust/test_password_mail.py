"""A forgotten password by mail, through a real mail server: who gets a link, what it opens, and what lies on the disk.

OWASP ASVS 5.0, numbers as in the table of auth/README.md: 6.4.3, 6.3.1, 6.3.8 (valid names can't be told), 14.2.1.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from argon2 import PasswordHasher

from plytide.http.app import create_app
from plytide.settings import Settings
from plytide.storage import clinics
from plytide.storage.files import backup
from plytide.storage.registry import password_mail
from plytide.storage.registry.registry import Registry, registry_path
from plytide.storage.sqlite import connect
from plytide.work import background
from tests.actors import PASSWORD, Cast, Clock
from tests.post import Inbox, listening
from tests.trust.conftest import moved_cast
from tests.trust.test_second_factor import refusal, set_up, sign_in

CHOSEN = "heron kettle under plaster"
ADDRESS = "ida@marram.example"
HERE = "https://plytide.example"


@dataclass
class House:
    """The cast at a server that sends mail, and what arrives."""

    cast: Cast
    settings: Settings
    box: Inbox

    def ask(self, login: str = "ida", **options: Any) -> Any:
        return self.cast.nobody.post("/api/clinic/password-mail", {"login": login}, **options)

    def sweep(self) -> None:
        background.sweep(self.settings)

    def links(self) -> list[str]:
        texts = [letter.get_content() for letter in self.box.mail]  # type: ignore[attr-defined]
        return [found for text in texts for found in re.findall(r"\S+new-password\?code=\S+", text)]

    def choose(self, link: str, password: str = CHOSEN) -> Any:
        given = {"code": link.split("code=")[1], "new_password": password}
        return self.cast.nobody.post("/api/clinic/password-by-code", given)

    def audit(self) -> list[dict[str, Any]]:
        lines: list[dict[str, Any]] = self.cast.nora.get("/api/clinic/audit?limit=50").get_json()["lines"]
        return lines


@pytest.fixture
def house(first_night: Cast, settings: Settings, clock: Clock) -> Iterator[House]:
    """Ida has an address, Juno has none. It is after midnight, before the hour of the day's list."""
    clock.forward(hours=-11)
    with listening() as (box, url):
        mailing = replace(settings, smtp_url=url, public_url=HERE, sweep_seconds=2)
        made = House(moved_cast(first_night, create_app(mailing), clock), mailing, box)
        said = made.cast.ida.put("/api/clinic/mail", {"password": PASSWORD, "mail": ADDRESS})
        assert said.status_code == 200
        yield made


def test_asking_again_writes_as_much_for_a_name_that_waits_as_for_one_that_was_dropped(
    house: House, clock: Clock
) -> None:
    """While the mail server is slow or down only known names wait: what is written, and so the time, must not tell."""
    registry = Registry(house.settings.data_dir)
    password_mail.ask(registry.db, "ida", "", clock())
    written = []
    for name in ("ida", "nobody-here"):
        before = registry.db.conn.total_changes
        password_mail.ask(registry.db, name, "", clock())
        written.append(registry.db.conn.total_changes - before)
    assert written == [1, 1]
    assert len(password_mail.due(registry.db, clock())) == 2
    registry.close()


def test_known_unknown_and_unreachable_names_get_the_same_answer_and_only_one_gets_mail(house: House) -> None:
    answers = [house.ask(name) for name in ("ida", "nobody-here", "juno", "IDA", "Ida Jansen")]
    assert {(answer.status_code, answer.get_data()) for answer in answers} == {(202, answers[0].get_data())}
    assert "on its way" in answers[0].get_json()["message"]
    assert {tuple(sorted(answer.headers.keys())) for answer in answers} == {tuple(sorted(answers[0].headers.keys()))}
    house.sweep()
    house.sweep()
    assert [letter["To"] for letter in house.box.mail] == [ADDRESS]
    (letter,) = house.box.mail
    assert (
        letter["Date"] and letter["Message-ID"].endswith("@localhost>") and letter["Auto-Submitted"] == "auto-generated"
    )


def test_asking_looks_nobody_up_so_its_time_can_not_tell(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """The time is not measured against a limit, a shared machine's would not hold: that no look-up is made is."""

    def never(*_: Any) -> Any:
        raise AssertionError("a name was looked up while somebody waits for the answer")

    with monkeypatch.context() as patched:
        patched.setattr(Registry, "whose_login", never)
        patched.setattr(clinics, "path_of", never)
        patched.setattr(PasswordHasher, "verify", never)
        assert house.ask("ida").status_code == house.ask("nobody-here").status_code == 202


def test_the_link_opens_the_choice_once_ends_all_sessions_and_its_owner_is_told(house: House) -> None:
    house.ask()
    house.sweep()
    (link,) = house.links()
    assert house.cast.ida.get("/api/clinic/session").status_code == 200
    assert house.choose(link).status_code == 200
    assert house.cast.ida.get("/api/clinic/session").status_code == 401
    assert sign_in(house.cast).status_code == 401
    assert sign_in(house.cast, password=CHOSEN).status_code == 200
    assert refusal(house.choose(link, "another heron under glass")) == (422, "code")
    house.sweep()
    assert [letter["Subject"] for letter in house.box.mail][1:] == ["Plytide: Your password was changed"]
    assert house.box.mail[1]["To"] == ADDRESS and "code=" not in house.box.mail[1].as_string()


def test_the_link_ends_after_half_an_hour(house: House, clock: Clock) -> None:
    house.ask()
    house.sweep()
    (link,) = house.links()
    clock.forward(minutes=30)
    assert refusal(house.choose(link)) == (422, "code")


def test_the_second_factor_is_still_asked_for(house: House) -> None:
    set_up(house.cast, house.cast.ida)
    house.ask()
    house.sweep()
    assert house.choose(house.links()[0]).status_code == 200
    assert refusal(sign_in(house.cast, password=CHOSEN)) == (401, "code-needed")


def test_no_more_than_three_links_an_hour_go_to_one_person(house: House, clock: Clock) -> None:
    said = []
    for _ in range(8):
        said.append(house.ask().status_code)
        house.sweep()
        clock.forward(minutes=6)
    assert set(said) == {202}  # the answer does not tell either
    assert len(house.links()) == 3
    clock.forward(minutes=13)  # an hour after the first
    house.ask()
    house.sweep()
    assert len(house.links()) == 4


def test_asking_again_and_again_is_slowed_down_by_name_and_by_address(house: House, clock: Clock) -> None:
    for name in ("ida", "nobody-here"):
        said = [house.ask(name) for _ in range(4)]
        assert [answer.status_code for answer in said] == [202, 202, 202, 429]
        assert int(said[-1].headers["Retry-After"]) > 0
        clock.forward(seconds=2)
    said = [house.ask(f"name-{n}").status_code for n in range(20)]
    assert said[0] == 202 and said[-1] == 429
    elsewhere = {"environ_base": {"REMOTE_ADDR": "198.51.100.7"}}
    assert house.ask("juno", **elsewhere).status_code == 202


def bytes_below(folder: Path) -> bytes:
    return b"".join(file.read_bytes() for file in sorted(folder.rglob("*")) if file.is_file())


def test_nothing_on_the_disk_or_in_a_backup_is_a_usable_link_at_any_time(house: House, tmp_path: Path) -> None:
    data = Path(house.settings.data_dir)
    house.ask()
    assert connect(registry_path(data)).conn.execute("SELECT count(*) FROM password_code").fetchone() == (0,)
    asked = bytes_below(data)  # the wish waits, the mail is not sent: there is no secret yet
    house.sweep()
    code = house.links()[0].split("code=")[1]
    assert len(code) >= 43
    sent = bytes_below(data)
    backup.backup(data, tmp_path / "copy", house.cast.clock.now)
    house.choose(house.links()[0])
    for written in (asked, sent, bytes_below(tmp_path / "copy"), bytes_below(data)):
        assert b"password_code" in written  # files were read, with the log beside them
        assert code.encode() not in written


def test_a_forged_host_leads_the_link_nowhere_else(house: House) -> None:
    forged = {"Host": "evil.example", "X-Forwarded-Host": "evil.example", "Forwarded": "host=evil.example"}
    assert house.ask(headers=forged).status_code == 202
    house.sweep()
    assert [link.startswith(f"{HERE}/clinic/#/new-password?code=") for link in house.links()] == [True]
    assert "evil.example" not in house.box.mail[0].as_string()


@pytest.mark.parametrize("without", ["smtp_url", "public_url", "sweep_seconds"])
def test_where_no_link_can_be_sent_every_name_is_told_to_ask_a_manager(house: House, without: str) -> None:
    mute = create_app(replace(house.settings, **{without: 0 if without == "sweep_seconds" else None}))
    there = replace(house, cast=moved_cast(house.cast, mute, house.cast.clock), settings=mute.config["SETTINGS"])
    answers = [there.ask(name, headers={"Host": "evil.example"}) for name in ("ida", "nobody-here")]
    assert {(answer.status_code, answer.get_data()) for answer in answers} == {(409, answers[0].get_data())}
    assert "manager" in answers[0].get_json()["error"]["message"]
    there.sweep()
    assert house.box.mail == []


def test_a_mail_server_that_is_down_delays_the_link_and_gives_up_when_it_would_be_too_old(
    house: House, clock: Clock
) -> None:
    house.box.down = True
    house.ask()
    house.sweep()
    clock.forward(minutes=2)
    house.box.down = False
    house.sweep()
    assert house.choose(house.links()[0]).status_code == 200
    house.box.down = True
    house.ask()
    house.sweep()
    clock.forward(minutes=31)
    house.box.down = False
    house.sweep()
    assert len(house.links()) == 1


def test_who_has_left_gets_no_link(house: House) -> None:
    people = house.cast.nora.get("/api/clinic/staff").get_json()["staff"]
    ida = next(one["id"] for one in people if one["name"] == "ida")
    house.ask()
    assert house.cast.nora.delete(f"/api/clinic/staff/{ida}").status_code == 200
    house.sweep()
    assert house.links() == []


def test_a_link_by_mail_undoes_none_that_a_manager_gave_and_no_earlier_one(house: House) -> None:
    people = house.cast.nora.get("/api/clinic/staff").get_json()["staff"]
    ida = next(one["id"] for one in people if one["name"] == "ida")
    given = house.cast.nora.made(f"/api/clinic/staff/{ida}/password-code", {})["link"]
    house.ask()
    house.sweep()
    assert house.choose(given).status_code == 200
    assert refusal(house.choose(house.links()[0])) == (422, "code")  # and using any ends all


def test_the_mail_says_nothing_of_health_names_no_patient_and_leaves_a_line_in_the_record(house: House) -> None:
    house.ask(headers={"User-Agent": "Mozilla/5.0 (X11; Linux x86_64) Firefox/140.0"})
    house.sweep()
    text = house.box.mail[0].get_content()  # type: ignore[attr-defined]
    assert "sign-in name ida" in text and "30 minutes" in text
    for word in ("Anouk", "Bram", "Dov", "limb", "socket", "wearer", "Marram"):
        assert word not in text
    line = next(line for line in house.audit() if line["what"] == "password.mail")
    assert (line["who"], line["device"]) == ("nobody", "Firefox on Linux")
    assert ADDRESS not in str(house.audit()) and "code=" not in str(house.audit())


def test_the_address_is_set_and_cleared_with_the_password_only_and_the_old_one_is_told(house: House) -> None:
    ida = house.cast.ida
    for body, field in (
        ({"password": "not the password", "mail": None}, "password"),
        ({"password": PASSWORD}, "mail"),
        ({"password": PASSWORD, "mail": "no address"}, "mail"),
        ({"password": PASSWORD, "mail": "ida@marram.example\r\nBcc: a@b.example"}, "mail"),
        ({"password": PASSWORD, "mail": "ida@localhost"}, "mail"),
    ):
        said = ida.put("/api/clinic/mail", body)
        assert said.status_code in (403, 422) and list(said.get_json()["error"]["fields"]) == [field], body
    assert ida.get("/api/clinic/mail").get_json() == {"mail": ADDRESS, "links": True}
    house.ask()
    house.sweep()
    assert ida.put("/api/clinic/mail", {"password": PASSWORD, "mail": None}).get_json()["mail"] is None
    assert refusal(house.choose(house.links()[0])) == (422, "code")  # it went to an address that is no longer hers
    house.sweep()
    assert [(letter["To"], letter["Subject"]) for letter in house.box.mail][1:] == [
        (ADDRESS, "Plytide: Your mail address was changed")
    ]
    house.ask()
    house.sweep()
    assert len(house.links()) == 1
    assert [line["detail"] for line in house.audit() if line["what"] == "staff.mail"] == ["cleared", "set"]
    assert ADDRESS not in str(house.audit())


def test_a_manager_may_give_an_address_when_adding_a_colleague(house: House) -> None:
    member = {"login": "wout", "name": "Wout", "role": "assistant"}
    said = house.cast.nora.post("/api/clinic/staff", member | {"mail": "no address"})
    assert said.status_code == 422 and list(said.get_json()["error"]["fields"]) == ["mail"]
    house.cast.nora.made("/api/clinic/staff", member | {"mail": "wout@marram.example"})
    house.ask("wout")
    house.sweep()
    assert [letter["To"] for letter in house.box.mail] == ["wout@marram.example"]
    assert house.choose(house.links()[0]).status_code == 200


def test_no_log_tells_the_address_the_name_or_the_link(house: House, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level("DEBUG")
    house.box.down = True
    house.ask()
    house.sweep()
    house.box.down = False
    house.cast.clock.forward(minutes=2)
    house.sweep()
    ours = [record.getMessage() for record in caplog.records if record.name.startswith("plytide")]
    assert ours == ["mail: not sent: SMTPDataError"]
