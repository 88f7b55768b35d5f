"""Databases encrypted at rest: nothing of them can be read without the key, and all of them with it.

The process that runs these tests has no key; commands and servers are processes of their own that have one.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import date
from importlib.util import find_spec
from pathlib import Path

import pytest

from plytide.settings import Settings
from plytide.storage.files import encryption, keys
from plytide.storage.sqlite import Unreadable, connect, wal_is_safe
from tests.actors import Cast, Server, checkin, plytide, running
from tests.journeys.clinic import call
from tests.journeys.phones import clinic_at
from tests.storage.test_backup import files_of

pytestmark = pytest.mark.skipif(find_spec("sqlcipher3") is None, reason="no sqlcipher3 here: pip install '.[sealed]'")

CANARY = "canary of the seventh pier"
VARIABLE = "PLYTIDE_DATABASE_KEY_FILE"


@pytest.fixture
def key(tmp_path: Path) -> Path:
    """A key of its own, made by the command, beside no data."""
    path = tmp_path / "keys" / "database.key"
    path.parent.mkdir()
    made = plytide("key", str(path))
    assert made.returncode == 0, made.stderr
    assert path.stat().st_mode & 0o777 == 0o600 and len(keys.read_key(path)) == 32
    return path


def bytes_below(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def shown(lying: dict[str, bytes], *words: str) -> list[tuple[str, str]]:
    """(file, word) of each word that can be read in a file."""
    return [(name, word) for name, data in lying.items() for word in words if word.encode() in data]


@pytest.fixture
def filled(cast: Cast, settings: Settings, today: date, tmp_path: Path) -> Path:
    """A plain data folder with a name and a note in it, which nobody has open."""
    cast.anouk.sync(*[cast.anouk.checkin(today, note=f"{CANARY} {n}") for n in range(30)])
    data = shutil.copytree(settings.data_dir, tmp_path / "filled")
    assert len(shown(bytes_below(data), CANARY, "Anouk", "SQLite format 3")) >= 4
    return data


def test_a_running_server_shows_nothing_of_what_it_keeps_in_any_file_and_a_copy_comes_back(
    key: Path, serve: Callable[..., Server], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(VARIABLE, str(key))
    server = serve("--workers", "2")
    with clinic_at(server) as clinic:
        person = clinic.person("Wilhelmina Quayle")
        (limb_id,) = clinic.limbs(person)
        token = call(server.url, "/api/enrol", {"code": clinic.code(person), "label": "Phone"})["token"]
    bearer = {"Authorization": f"Bearer {token}"}
    items = [checkin(limb_id, date.today(), note=f"{CANARY} {n}") for n in range(200)]
    sent = call(server.url, "/api/sync", {"schema": 1, "cursor": None, "checkins": items}, **bearer)
    assert {receipt["status"] for receipt in sent["receipts"]} == {"kept"}

    lying = bytes_below(server.data)
    assert {Path(name).suffix for name in lying} >= {".db", ".db-wal", ".db-shm"}
    assert any(name.endswith("-wal") and len(data) > 50_000 for name, data in lying.items())  # it was written through
    words = (CANARY, "Wilhelmina", "Quayle", "SQLite format 3", "CREATE TABLE", limb_id, keys.read_key(key).hex())
    assert shown(lying, *words) == []

    copy, twice, fresh, backup_key = (tmp_path / name for name in ("copy", "twice", "fresh", "keys/backup.key"))
    for target, options in ((copy, ()), (twice, ("--key-file", str(backup_key)))):
        made = plytide("backup", str(target), "--data", str(server.data), *options)
        assert made.returncode == 0, made.stderr
        assert shown(bytes_below(target), *words) == []
    assert plytide("check", "--data", str(server.data)).returncode == 0
    server.process.terminate()
    server.process.wait(120)
    back = plytide("restore", str(twice), "--data", str(fresh), "--key-file", str(backup_key))
    assert back.returncode == 0, back.stderr
    assert plytide("check", "--data", str(fresh)).returncode == 0
    assert shown(bytes_below(fresh), *words) == []
    assert plytide("decrypt", "--data", str(fresh)).returncode == 0
    (clinic_file,) = (fresh / "clinics").glob("*.db")
    db = connect(clinic_file)
    kept = {row[0] for row in db.conn.execute("SELECT id FROM checkin")}
    db.close()
    assert kept == {item["id"] for item in items}


def test_a_folder_is_encrypted_given_another_key_and_made_plain_again_row_for_row(
    key: Path, filled: Path, tmp_path: Path
) -> None:
    before, other = files_of(filled), tmp_path / "keys" / "other.key"
    keys.new_key(other)
    first, second = {VARIABLE: str(key)}, {VARIABLE: str(other)}

    made = plytide("encrypt", "--data", str(filled), **first)
    assert made.returncode == 0 and made.stdout.startswith("3 databases encrypted"), made.stderr
    assert shown(bytes_below(filled), CANARY, "Anouk", "SQLite format 3") == []
    assert plytide("check", "--data", str(filled), **first).returncode == 0

    assert plytide("rekey", "--data", str(filled), "--new-key-file", str(other), **first).returncode == 0
    assert plytide("check", "--data", str(filled), **first).returncode != 0
    assert plytide("check", "--data", str(filled), **second).returncode == 0

    assert plytide("decrypt", "--data", str(filled), **second).returncode == 0
    assert files_of(filled) == before
    assert not list(filled.rglob("*.converting"))


def test_without_the_right_key_a_command_says_what_to_do_and_changes_nothing(
    key: Path, filled: Path, tmp_path: Path
) -> None:
    other, copy = tmp_path / "keys" / "other.key", tmp_path / "copy"
    keys.new_key(other)
    data = ("--data", str(filled))
    assert plytide("backup", str(tmp_path / "plain-copy"), *data).returncode == 0
    early = plytide("check", *data, **{VARIABLE: str(key)})
    assert early.returncode == 2 and "plytide encrypt" in early.stderr
    assert plytide("encrypt", *data, **{VARIABLE: str(key)}).returncode == 0
    lying = bytes_below(filled)
    commands = [
        ("serve", *data, "--port", "0"),
        ("backup", str(copy), *data),
        ("unlock", *data, "--login", "nora"),
        ("staff", *data, "--clinic-of", "nora", "--login", "newcomer"),
        ("init", *data, "--clinic", "Sallow", "--login", "other"),
    ]
    for command in commands:
        for environment, says in (({}, VARIABLE), ({VARIABLE: str(other)}, "has another key")):
            said = plytide(*command, PLYTIDE_PASSWORD="a long walk by the water", **environment)
            assert (said.returncode, "Traceback" in said.stderr) == (2, False), (command, said.stderr)
            assert says in said.stderr and len(said.stderr.splitlines()) == 1, said.stderr
    missing = plytide("serve", *data, **{VARIABLE: str(tmp_path / "nowhere.key")})
    assert missing.returncode == 2 and "nowhere.key can't be read" in missing.stderr
    key.chmod(0o644)
    open_to_all = plytide("check", *data, **{VARIABLE: str(key)})
    assert open_to_all.returncode == 2 and "chmod 600" in open_to_all.stderr
    key.chmod(0o600)
    wrong = plytide("decrypt", *data, **{VARIABLE: str(other)})
    assert wrong.returncode == 2 and "neither with the key" in wrong.stderr
    mixed = plytide("restore", str(tmp_path / "plain-copy"), *data, "--force", **{VARIABLE: str(key)})
    assert mixed.returncode == 2 and "not encrypted" in mixed.stderr
    with pytest.raises(Unreadable, match="damaged"):
        connect(filled / "registry.db")
    databases = {name: value for name, value in lying.items() if name.endswith(".db")}
    assert {name: bytes_below(filled)[name] for name in databases} == databases
    assert not copy.exists()


@pytest.mark.parametrize("where", [0.3, 0.6, 0.9])
def test_a_changed_byte_in_an_encrypted_file_is_found(key: Path, filled: Path, where: float) -> None:
    assert plytide("encrypt", "--data", str(filled), **{VARIABLE: str(key)}).returncode == 0
    path = max((filled / "clinics").glob("*.db"), key=lambda path: path.stat().st_size)
    data = bytearray(path.read_bytes())
    data[int(len(data) * where)] ^= 1
    path.write_bytes(data)
    said = plytide("check", "--data", str(filled), **{VARIABLE: str(key)})
    assert said.returncode == 1 and path.name in said.stdout, said.stdout + said.stderr


def test_a_key_in_the_data_folder_is_refused(filled: Path) -> None:
    beside = filled / "database.key"
    keys.new_key(beside)
    said = plytide("encrypt", "--data", str(filled), **{VARIABLE: str(beside)})
    assert said.returncode == 2 and "Move it elsewhere" in said.stderr
    assert len(shown(bytes_below(filled), "SQLite format 3")) >= 3
    missing = plytide("encrypt", "--data", str(filled))
    assert missing.returncode == 2 and "plytide key" in missing.stderr


def test_a_key_that_is_there_is_never_replaced(key: Path) -> None:
    before = key.read_bytes()
    said = plytide("key", str(key))
    assert said.returncode == 2 and key.read_bytes() == before


def test_a_file_that_another_program_has_open_is_left_alone(key: Path, filled: Path) -> None:
    (path, *_) = sorted((filled / "clinics").glob("*.db"))
    db = connect(path)
    said = plytide("encrypt", "--data", str(filled), **{VARIABLE: str(key)})
    assert said.returncode == 2 and "in use by another program" in said.stderr, said.stderr
    assert db.conn.execute("SELECT count(*) FROM clinic").fetchone()[0] == 1
    db.close()
    assert plytide("encrypt", "--data", str(filled), **{VARIABLE: str(key)}).returncode == 0


def test_no_folder_is_converted_under_a_running_server(
    key: Path, server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(VARIABLE, str(key))
    said = plytide("encrypt", "--data", str(server.data))
    assert said.returncode == 2 and "Stop it first" in said.stderr
    assert len(shown(bytes_below(server.data), "SQLite format 3")) == 2


KILLED = """
import os, signal, sys
from plytide.cli import main
left = int(sys.argv.pop(1))
def heard(event, args):
    global left
    if event in ("os.rename", "os.remove"):
        left -= 1
        if left < 0:
            os.kill(os.getpid(), signal.SIGKILL)
sys.addaudithook(heard)
sys.exit(main(sys.argv[1:]))
"""


def killed_at(step: int, *command: str, **environment: str) -> bool:
    """Run a command that is killed before its `step`-th replacing or removing of a file; whether it came so far."""
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(step), *command],
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode in (0, -9), done.stderr
    return done.returncode == -9


def test_an_encryption_that_is_killed_anywhere_is_finished_by_the_same_command(
    key: Path, filled: Path, tmp_path: Path
) -> None:
    before, environment, steps = files_of(filled), {VARIABLE: str(key)}, 0
    while True:
        data = tmp_path / f"try-{steps}"
        shutil.copytree(filled, data)
        if not killed_at(steps, "encrypt", "--data", str(data), **environment):
            break
        assert plytide("encrypt", "--data", str(data), **environment).returncode == 0
        assert shown(bytes_below(data), CANARY, "Anouk", "SQLite format 3") == []
        assert plytide("check", "--data", str(data), **environment).returncode == 0
        assert plytide("decrypt", "--data", str(data), **environment).returncode == 0
        assert files_of(data) == before
        steps += 1
    assert steps >= 3  # one for each file at least


def test_the_library_has_no_wal_reset_bug_and_is_the_one_that_is_used(key: Path, tmp_path: Path) -> None:
    """sqlite.org/wal.html#walresetbug: fixed in 3.51.3, 3.50.7 and 3.44.6."""
    asked = (
        "import plytide.storage.sqlite as s, pathlib, sys\n"
        "from plytide.storage.clinic_migrations import clinic_migrations as m\n"
        "path = pathlib.Path(sys.argv[1])\n"
        "s.prepare(path, m)\n"
        "db = s.connect(path)\n"
        "one = lambda sql: str(db.conn.execute(sql).fetchone()[0])\n"
        "print(one('SELECT sqlite_version()'), one('PRAGMA journal_mode'), one('PRAGMA cipher_version').split()[0],\n"
        "      one('PRAGMA synchronous'), one('PRAGMA foreign_keys'), one('PRAGMA cipher_status'))\n"
    )
    said = subprocess.run(
        [sys.executable, "-c", asked, str(tmp_path / "clinic.db")],
        env={**os.environ, VARIABLE: str(key)},
        capture_output=True,
        text=True,
    )
    assert said.returncode == 0, said.stderr
    version, mode, cipher, synchronous, foreign_keys, status = said.stdout.split()
    assert wal_is_safe(tuple(map(int, version.split(".")))) and mode == "wal"
    assert cipher.startswith("4.") and (synchronous, foreign_keys, status) == ("2", "1", "1")


def test_without_the_library_the_server_says_which_to_install(key: Path, filled: Path, tmp_path: Path) -> None:
    blind = "import sys; sys.modules['sqlcipher3'] = None; from plytide.cli import main; sys.exit(main(sys.argv[1:]))"
    said = subprocess.run(
        [sys.executable, "-c", blind, "serve", "--data", str(filled)],
        env={**os.environ, VARIABLE: str(key)},
        capture_output=True,
        text=True,
        timeout=30,
    )
    assert said.returncode == 2 and ".[sealed]" in said.stderr, said.stderr


def test_every_difference_between_two_files_is_found(tmp_path: Path) -> None:
    """What the conversion rests on before it puts the new file in the place of the old one."""

    def made(name: str, *more: str) -> Path:
        path = tmp_path / name
        db = connect(path, create=True)
        for sql in (
            "CREATE TABLE a (n INTEGER PRIMARY KEY, word TEXT) STRICT",
            "CREATE TABLE b (word TEXT PRIMARY KEY) STRICT, WITHOUT ROWID",
            "INSERT INTO a VALUES (1, 'one'), (2, 'two'), (3, NULL)",
            "INSERT INTO b VALUES ('x'), ('y')",
            *more,
        ):
            db.conn.execute(sql)
        db.close()
        return path

    first = connect(made("first.db"))
    changes = {
        "same": (),
        "a value": ("UPDATE a SET word = 'Two' WHERE n = 2",),
        "nothing for a word": ("UPDATE a SET word = '' WHERE n = 3",),
        "a row less": ("DELETE FROM a WHERE n = 3",),
        "a row more": ("INSERT INTO b VALUES ('z')",),
        "a trigger": ("CREATE TRIGGER t BEFORE DELETE ON a BEGIN SELECT raise(ABORT, 'no'); END",),
    }
    found = {}
    for number, (name, more) in enumerate(changes.items()):
        other = connect(made(f"{number}.db", *more))
        found[name] = encryption.difference(first, other)
        other.close()
    first.close()
    assert found.pop("same") is None
    assert all(found.values()), found


def test_a_key_of_root_may_have_a_group_and_nobody_elses_may(tmp_path: Path) -> None:
    """systemd hands a credential to the service's user by an ACL, which shows as a group's right to read."""
    path = tmp_path / "database.key"
    keys.new_key(path)
    for mode, of_root, of_others in ((0o600, True, True), (0o440, True, False), (0o644, False, False)):
        path.chmod(mode)
        assert keys.is_private(path) is (of_root if os.geteuid() == 0 else of_others), oct(mode)


@pytest.mark.slow
def test_sync_backups_and_the_store_hold_all_they_promise_under_a_key_too(key: Path) -> None:
    """The same tests once more, in a process that has a key: every file they make is encrypted."""
    root = Path(__file__).parents[2]
    files = ["tests/work/test_sync.py", "tests/storage/test_backup.py", "tests/storage/test_sqlite.py"]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-n", "0", "-q", "-p", "no:cacheprovider", *files],
        cwd=root,
        env={**os.environ, VARIABLE: str(key)},
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == 0, done.stdout[-3000:]
    assert "skipped" not in done.stdout.splitlines()[-1]


def test_a_log_of_a_wrong_key_tells_nothing_of_either(key: Path, filled: Path, tmp_path: Path) -> None:
    environment = {VARIABLE: str(key)}
    assert plytide("encrypt", "--data", str(filled), **environment).returncode == 0
    log = tmp_path / "serve.log"
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv(VARIABLE, str(key))
        with running("serve", "--data", str(filled), "--port", "0", log=log) as process:
            assert process.stdout and process.stdout.readline().startswith("http")
            time.sleep(0.3)
    assert keys.read_key(key).hex() not in log.read_text()
    other = tmp_path / "keys" / "other.key"
    keys.new_key(other)
    said = plytide("serve", "--data", str(filled), **{VARIABLE: str(other)})
    for secret in (keys.read_key(other).hex(), keys.read_key(key).hex()):
        assert secret not in said.stderr + said.stdout


def test_a_new_key_that_others_can_read_is_refused_before_anything_is_changed(
    filled: Path, key: Path, tmp_path: Path
) -> None:
    first = {VARIABLE: str(key)}
    assert plytide("encrypt", "--data", str(filled), **first).returncode == 0
    other = tmp_path / "other.key"
    assert plytide("key", str(other)).returncode == 0
    other.chmod(0o644)
    said = plytide("rekey", "--data", str(filled), "--new-key-file", str(other), **first)
    assert said.returncode == 2 and "chmod 600" in said.stderr
    assert plytide("check", "--data", str(filled), **first).returncode == 0
