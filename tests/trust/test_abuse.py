"""What nobody sends by mistake: bombs, depths, huge numbers, wrong encodings, tricks with paths, slow hands.

Each gets a clear error and nothing is kept. OWASP ASVS 5.0: 2.2 (input), 4.2 (HTTP), 5.2 (files), 15.2.2 (time-outs).
"""

from __future__ import annotations

import gzip
import importlib
import json
import pkgutil
import socket
import string
import tracemalloc
import zlib
from contextlib import ExitStack
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import plytide.wire
from plytide.wire import checkin as wire
from plytide.wire import history
from plytide.wire.body import read
from plytide.wire.checkin import Refused
from plytide.wire.fields import Strict
from plytide.work.sync import read_cursor
from tests.actors import Cast, Server
from tests.conftest import TODAY


def refusal(answer: Any) -> tuple[int, str]:
    body = answer.get_json()
    assert set(body["error"]) == {"code", "message", "fields"} and body["error"]["message"]
    return answer.status_code, body["error"]["code"]


def raw(cast: Cast, data: bytes, **headers: str) -> Any:
    sent = {"Content-Type": "application/json", **headers}
    return cast.anouk.phone.call("POST", "/api/sync", data=data, headers=sent)


# Bodies


def test_a_bomb_in_gzip_is_refused_after_no_more_than_the_limit(cast: Cast) -> None:
    """A hundred megabytes in a hundred kilobytes: unpacked to the limit, no further."""
    bomb = gzip.compress(b" " * 100_000_000, 9)
    assert len(bomb) < 200_000
    tracemalloc.start()
    try:
        assert refusal(raw(cast, bomb, **{"Content-Encoding": "gzip"})) == (413, "too-large")
        assert tracemalloc.get_traced_memory()[1] < 20_000_000
    finally:
        tracemalloc.stop()


def test_a_bomb_in_a_bomb_is_not_unpacked_twice(cast: Cast) -> None:
    twice = gzip.compress(gzip.compress(b" " * 10_000_000, mtime=0))
    assert refusal(raw(cast, twice, **{"Content-Encoding": "gzip"})) == (400, "not-json")
    assert refusal(raw(cast, twice, **{"Content-Encoding": "gzip, gzip"})) == (415, "encoding")


@pytest.mark.parametrize("data", [b"\x1f\x8b", gzip.compress(b"{}", mtime=0)[:-9], zlib.compress(b"{}"), b"{}", b""])
def test_a_broken_gzip_body_is_said_to_be_broken(cast: Cast, data: bytes) -> None:
    assert refusal(raw(cast, data, **{"Content-Encoding": "gzip"})) == (400, "not-gzip")


def test_a_body_above_the_limit_is_refused_whole(cast: Cast) -> None:
    log = cast.anouk.checkin(TODAY)
    body = json.dumps({"schema": 1, "checkins": [log], "app": "x" * 2_000_001}).encode()
    assert refusal(raw(cast, body)) == (413, "too-large")
    assert cast.anouk.sync().get_json()["receipts"] == []
    assert log["id"] not in cast.anouk.sync().get_data(as_text=True)


@pytest.mark.parametrize("deep", [b"[" * 100_000, b'{"a":' * 100_000, b"[" * 100_000 + b"]" * 100_000])
def test_json_a_hundred_thousand_deep_is_refused(cast: Cast, deep: bytes) -> None:
    assert raw(cast, deep).status_code in (400, 422)


NOT_JSON = [
    b"",
    b"{",
    b"nul",
    b"{'a': 1}",
    b'{"a": NaN}',
    b'{"a": Infinity}',
    b"\xff\xfe{\x00}\x00",
    b'"\xff"',
    b'"\xed\xa0\x80"',
    b"<a/>",
]


@pytest.mark.parametrize("data", NOT_JSON)
def test_what_is_not_json_in_utf_8_is_refused(cast: Cast, data: bytes) -> None:
    assert refusal(raw(cast, data)) == (400, "not-json")


@pytest.mark.parametrize("value", ["[]", "7", '"text"', "null", "true"])
def test_json_that_is_no_object_is_refused(cast: Cast, value: str) -> None:
    assert refusal(raw(cast, value.encode())) == (422, "not-an-object")


HUGE = ["1e309", "-1e309", "1" * 400, "9" * 20, "-" + "9" * 20, "1e-400", "0.1e1000000"]


@pytest.mark.parametrize("number", HUGE)
@pytest.mark.parametrize("name", ["comfort", "weight_kg", "hours_worn", "falls"])
def test_huge_and_tiny_numbers_are_refused_by_field_or_as_not_json(cast: Cast, number: str, name: str) -> None:
    log = cast.anouk.checkin(TODAY)
    text = json.dumps({**log, name: "HERE"}).replace('"HERE"', number)
    answer = raw(cast, f'{{"schema": 1, "checkins": [{text}]}}'.encode())
    if answer.status_code == 400:
        return
    receipt = answer.get_json()["receipts"][0]
    assert (receipt["status"], list(receipt["errors"])) == ("refused", [name]) or number in ("1e-400",)


@pytest.mark.parametrize("text", ["\0", "a\0b", "\ud800", "x" * 1001])
def test_text_that_can_not_be_kept_is_refused_by_field(cast: Cast, text: str) -> None:
    log = json.dumps(cast.anouk.checkin(TODAY, note=text)).encode()
    answer = raw(cast, b'{"schema": 1, "checkins": [' + log + b"]}")
    if answer.status_code == 400:
        assert text == "\ud800"
        return
    receipt = answer.get_json()["receipts"][0]
    assert (receipt["status"], list(receipt["errors"])) == ("refused", ["note"])


def test_one_name_twice_in_an_object_does_not_slip_past_the_check(cast: Cast) -> None:
    text = json.dumps(cast.anouk.checkin(TODAY))[:-1] + ', "comfort": 99}'
    answer = raw(cast, f'{{"schema": 1, "checkins": [{text}]}}'.encode())
    assert answer.get_json()["receipts"][0]["errors"].keys() == {"comfort"}


@pytest.mark.parametrize("key", ["__proto__", "constructor", "$where", "id[$ne]"])
def test_unknown_fields_are_refused_whatever_they_are_called(cast: Cast, key: str) -> None:
    receipt = cast.anouk.sync(cast.anouk.checkin(TODAY, **{key: "x"})).get_json()["receipts"][0]
    assert receipt["errors"] == {key: ["Plytide does not know this field."]}


def test_a_thousand_fields_get_one_answer(cast: Cast) -> None:
    odd = {f"field{n}": n for n in range(1000)}
    assert cast.anouk.sync(*[cast.anouk.checkin(TODAY, **odd) for _ in range(20)]).status_code == 200


# Addresses


TRICKS = [
    "/shared/../../pyproject.toml", "/shared/%2e%2e/%2e%2e/pyproject.toml", "/shared/..%2f..%2fpyproject.toml",
    "/shared/....//....//pyproject.toml", "/shared//etc/passwd", "/shared/%00", "/shared/tokens.css%00.js",
    "/shared/.git/config", "/phone/.%2e/index.html", "/shared/..\\..\\pyproject.toml", "/shared/%5c..%5cpyproject.toml",
    "/vendor/" + "a" * 4000, "/shared/%ff%fe", "/clinic/..;/x",
]  # fmt: skip


@pytest.mark.parametrize("path", TRICKS)
def test_no_trick_with_a_path_leaves_the_webs_folders(cast: Cast, path: str) -> None:
    answer = cast.nobody.get(path)
    assert answer.status_code in (404, 308)
    if answer.status_code == 308:  # doubled slashes are put right first
        assert cast.nobody.get(answer.headers["Location"]).status_code == 404
    assert b"build-system" not in answer.get_data()


IDS = [
    "..",
    "%2e%2e",
    "../../x",
    "..%2f..%2fregistry.db",
    "%00",
    "'",
    "1' OR '1'='1",
    "%ff",
    "a" * 3000,
    "\U0001f9e6",
    "*",
    "%25",
]


@pytest.mark.parametrize("name", IDS)
@pytest.mark.parametrize("base", ["limbs", "people", "photos", "signals", "sockets", "devices", "visits"])
def test_an_id_that_is_none_finds_nothing(cast: Cast, base: str, name: str) -> None:
    for method in ("GET", "PATCH", "DELETE", "POST"):
        assert cast.nora.call(method, f"/api/clinic/{base}/{name}", {}).status_code in (404, 405, 308)


@pytest.mark.parametrize("name", IDS)
def test_a_photos_name_can_not_be_a_path(cast: Cast, name: str) -> None:
    where = {"limb_id": cast.anouk.limb_id, "checkin_id": "c"}
    answer = cast.anouk.phone.call("PUT", f"/api/photos/{name}", data=b"x", query_string=where)
    assert answer.status_code in (404, 405, 422, 308)


@pytest.mark.parametrize(
    "query",
    [
        "limit=%00",
        "limit=-1",
        "limit=1e9",
        "limit=٣",
        "next=%00",
        "next=\x1f",
        "as_of=0000-00-00",
        "q=%ff%00",
        "q=" + "%25_" * 500,
    ],
)
@pytest.mark.parametrize("path", ["people", "worklist", "audit"])
def test_odd_queries_get_an_answer_or_a_field(cast: Cast, path: str, query: str) -> None:
    answer = cast.nora.get(f"/api/clinic/{path}?{query}")
    assert answer.status_code in (200, 422)
    if answer.status_code == 422:
        assert answer.get_json()["error"]["fields"]


@pytest.mark.parametrize("search", ["%", "_", "' OR 1=1 --", "\\", "a" * 5000])
def test_a_search_is_text_and_no_pattern(cast: Cast, search: str) -> None:
    assert cast.nora.get("/api/clinic/people", query_string={"q": search}).get_json()["people"] == []


HEADERS = [
    {"Authorization": "Bearer " + "x" * 5000}, {"Authorization": "Bearer \udcff"}, {"Authorization": "Basic YTpi"},
    {"Authorization": "bearer"}, {"Authorization": ""}, {"Cookie": "plytide_session=" + "x" * 5000},
    {"Cookie": "=;=;;"},
]  # fmt: skip


@pytest.mark.parametrize("headers", HEADERS, ids=range(len(HEADERS)))
def test_odd_credentials_are_no_credentials(cast: Cast, headers: dict[str, str]) -> None:
    plain = {name: value.encode("latin-1", "replace").decode("latin-1") for name, value in headers.items()}
    for path in ("/api/me", "/api/clinic/worklist"):
        assert cast.nobody.get(path, headers=plain).status_code == 401


# Every parser, with anything


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=30),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)
SCHEMAS = sorted(
    {
        one
        for found in pkgutil.iter_modules(plytide.wire.__path__, "plytide.wire.")
        for one in vars(importlib.import_module(found.name)).values()
        if isinstance(one, type) and issubclass(one, Strict) and one is not Strict
    },
    key=lambda one: one.__name__,
)


def near(schema: type[Strict]) -> st.SearchStrategy[Any]:
    """Objects that have the schema's own names, with anything in them."""
    return st.dictionaries(st.sampled_from(sorted(schema().fields)), ANYTHING, max_size=8)


@pytest.mark.parametrize("schema", SCHEMAS, ids=lambda one: one.__name__)
def test_every_schema_takes_or_refuses_by_field_and_never_breaks(schema: type[Strict]) -> None:
    @settings(max_examples=40, deadline=None)
    @given(ANYTHING | near(schema), st.booleans())
    def run(raw: Any, partial: bool) -> None:
        try:
            assert isinstance(read(schema(), raw, partial=partial), dict)
        except Refused as refused:
            assert refused.errors and all(isinstance(name, str) and said for name, said in refused.errors.items())

    run()


@settings(max_examples=150, deadline=None)
@given(ANYTHING | near(wire.CheckInSchema))
def test_a_check_in_is_read_or_refused_by_field(raw: Any) -> None:
    try:
        offered = wire.read(raw)
        assert wire.noun(1, offered.id, offered.limb_id, offered.body, None).id == offered.id
    except Refused as refused:
        assert refused.errors


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=80) | ANYTHING.map(lambda raw: json.dumps(raw).encode()))
def test_a_line_of_histories_is_read_or_refused(line: bytes) -> None:
    try:
        history.read_line(line)
    except history.HistoryError as fault:
        assert str(fault)


@settings(max_examples=150, deadline=None)
@given(st.text(string.printable, max_size=60) | st.none())
def test_a_cursor_is_read_or_begun_anew(text: str | None) -> None:
    read_cursor(text)


# Slow and rude hands, against a real server


def lines(sock: socket.socket) -> bytes:
    sock.settimeout(20)
    try:
        return sock.recv(400)
    except (ConnectionResetError, TimeoutError):
        return b""


def connected(server: Server) -> socket.socket:
    port = int(server.url.rsplit(":", 1)[1])
    return socket.create_connection(("127.0.0.1", port), timeout=20)


def test_many_who_send_nothing_do_not_keep_others_out(server: Server) -> None:
    from urllib.request import urlopen

    with ExitStack() as open_until_then:
        idle = [open_until_then.enter_context(connected(server)) for _ in range(60)]
        for one in idle[:24]:
            one.sendall(b"POST /api/sync HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n")  # and then no more
        with urlopen(f"{server.url}/healthz", timeout=60) as answer:
            assert answer.status == 200


BROKEN = [
    b"GET / HTTP/1.1\r\nHost: x\r\n" + b"X: " + b"a" * 9000 + b"\r\n\r\n",
    b"GET /" + b"a" * 5000 + b" HTTP/1.1\r\nHost: x\r\n\r\n",
    b"GET / HTTP/1.1\r\n" + b"".join(b"X-%d: y\r\n" % n for n in range(200)) + b"\r\n",
    b"POST /api/sync HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
    b"POST /api/sync HTTP/1.1\r\nHost: x\r\nContent-Length: -5\r\n\r\n",
    b"POST /api/sync HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\nhello",
    b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
    b"GET / HTTP/9.9\r\n\r\n",
]


def test_broken_http_is_refused_and_the_server_goes_on(server: Server) -> None:
    for data in BROKEN:
        with connected(server) as sock:
            sock.sendall(data)
            sock.shutdown(socket.SHUT_WR)
            said = lines(sock)
        assert said == b"" or said.startswith(
            (b"HTTP/1.1 400", b"HTTP/1.1 431", b"HTTP/1.1 414", b"HTTP/1.1 505", b"HTTP/1.1 501")
        ), data[:60]
        assert b"Traceback" not in said
    with connected(server) as sock:
        sock.sendall(b"GET /healthz HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
        assert lines(sock).startswith(b"HTTP/1.1 200")
