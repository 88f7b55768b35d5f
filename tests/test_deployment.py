"""The proxy's configuration and the unit of server/RUNNING.md, taken out of it as they stand and used.

nginx runs in front of a real gunicorn; only names, ports, certificate and (to save time) waits are others.
"""

from __future__ import annotations

import datetime as dt
import http.client
import json
import os
import re
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from plytide.cli import main
from plytide.settings import Settings
from tests.actors import Json, Server, free_port

RUNNING = (Path(__file__).resolve().parents[1] / "server" / "RUNNING.md").read_text()
NGINX = shutil.which("nginx", path=os.environ["PATH"] + ":/usr/sbin")
HOST = "plytide.clinic.example"
SECONDS = 1  # in the place of each wait of ten


def written(kind: str) -> str:
    """The one block of that language in the document."""
    (text,) = re.findall(rf"^```{kind}\n(.+?)^```", RUNNING, re.DOTALL | re.MULTILINE)
    return str(text)


def replaced(text: str, *pairs: tuple[str, str]) -> str:
    for old, new in pairs:
        assert old in text, f"the document no longer says {old!r}"
        text = text.replace(old, new)
    return text


def certificate(folder: Path) -> tuple[Path, Path]:
    """A certificate of its own for localhost, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
    now = dt.datetime.now(dt.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=1))
        .add_extension(
            x509.SubjectAlternativeName([x509.DNSName("localhost"), x509.IPAddress(ip_address("127.0.0.1"))]), False
        )
        .sign(key, hashes.SHA256())
    )
    pem, private = folder / "proxy.pem", folder / "proxy.key"
    pem.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    private.write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )
    return pem, private


def listens(port: int) -> bool:
    with socket.socket() as tried:
        return tried.connect_ex(("127.0.0.1", port)) == 0


@dataclass
class Proxy:
    """nginx in front of a server: calls through it, from whichever address of this machine."""

    server: Server
    port: int
    plain_port: int
    trust: ssl.SSLContext

    def open(self, source: str = "127.0.0.1") -> ssl.SSLSocket:
        raw = socket.create_connection(("127.0.0.1", self.port), timeout=20, source_address=(source, 0))
        return self.trust.wrap_socket(raw, server_hostname="localhost")

    def call(
        self, method: str, path: str, body: Json | bytes | None = None, source: str = "127.0.0.1", **headers: str
    ) -> tuple[int, http.client.HTTPMessage, bytes]:
        connection = http.client.HTTPSConnection(
            "localhost", self.port, context=self.trust, timeout=20, source_address=(source, 0)
        )
        try:
            sent = json.dumps(body).encode() if isinstance(body, dict) else body
            named = {"Content-Type": "application/json", **{name.replace("_", "-"): it for name, it in headers.items()}}
            connection.request(method, path, sent, named)
            answer = connection.getresponse()
            return answer.status, answer.headers, answer.read()
        finally:
            connection.close()


@pytest.fixture
def proxy(serve: Callable[..., Server], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Proxy]:
    if NGINX is None:
        pytest.skip("no nginx here: it is a Debian package")
    port, plain_port = free_port(), free_port()
    monkeypatch.setenv("PLYTIDE_PUBLIC_URL", f"https://localhost:{port}")
    monkeypatch.setenv("PLYTIDE_PROXIES", "1")
    server = serve("--workers", "2")
    pem, private = certificate(tmp_path)
    site = replaced(
        written("nginx"),
        ("listen 443 ssl;", f"listen 127.0.0.1:{port} ssl;"),
        ("listen 80;", f"listen 127.0.0.1:{plain_port};"),
        (HOST, "localhost"),
        ("/etc/ssl/plytide.pem", str(pem)),
        ("/etc/ssl/private/plytide.key", str(private)),
        ("http://127.0.0.1:8700", server.url),
        ("client_header_timeout 10s", f"client_header_timeout {SECONDS}s"),
        ("client_body_timeout 10s", f"client_body_timeout {SECONDS}s"),
    )
    temporary = "".join(
        f"{name}_temp_path {tmp_path}/{name};" for name in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    config = tmp_path / "nginx.conf"
    user = "user root;" if os.geteuid() == 0 else ""  # else its worker could not write below this folder
    config.write_text(
        f"{user} daemon off; worker_processes 1; pid {tmp_path}/nginx.pid; error_log {tmp_path}/nginx.log;"
        f" events {{}} http {{ {temporary}\n{site}\n}}"
    )
    command = [NGINX, "-e", str(tmp_path / "nginx.log"), "-c", str(config), "-p", str(tmp_path)]
    tried = subprocess.run([*command, "-t"], capture_output=True, text=True, timeout=120)
    assert tried.returncode == 0, tried.stderr
    running = subprocess.Popen(command, stdin=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        until = time.monotonic() + 120
        while not listens(port):
            assert running.poll() is None and time.monotonic() < until, (tmp_path / "nginx.log").read_text()
            time.sleep(0.05)
        yield Proxy(server, port, plain_port, ssl.create_default_context(cafile=str(pem)))
    finally:
        running.send_signal(signal.SIGQUIT)
        running.wait(120)


def test_behind_nginx_staff_sign_in_over_tls_with_a_cookie_of_this_host_alone(proxy: Proxy) -> None:
    server = proxy.server
    status, headers, _ = proxy.call("POST", "/api/clinic/session", {"login": server.login, "password": server.password})
    assert status == 200
    cookie = str(headers["Set-Cookie"])
    assert cookie.startswith("__Host-plytide_session=")
    assert {"Secure", "HttpOnly", "SameSite=Strict", "Path=/"} <= {part.strip() for part in cookie.split(";")}
    assert int(re.findall(r"max-age=(\d+)", str(headers["Strict-Transport-Security"]))[0]) >= 31_536_000
    assert headers.get_all("Strict-Transport-Security") is not None
    assert len(headers.get_all("Strict-Transport-Security") or []) == 1
    status, headers, body = proxy.call("GET", "/api/clinic/worklist", Cookie=cookie.split(";")[0])
    assert status == 200 and json.loads(body)["limbs"] == []
    assert "nginx/" not in str(headers["Server"])
    assert proxy.call("GET", "/clinic/")[0] == 200
    assert proxy.call("GET", "/phone/")[0] == 200


def test_a_call_without_tls_is_sent_to_tls(proxy: Proxy) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", proxy.plain_port, timeout=120)
    connection.request("GET", "/phone/?a=b")
    answer = connection.getresponse()
    assert answer.status == 301 and answer.headers["Location"] == "https://localhost/phone/?a=b"
    connection.close()


def test_each_caller_is_slowed_down_by_their_own_address_whatever_they_claim(proxy: Proxy) -> None:
    def tries(source: str, count: int) -> list[int]:
        return [
            proxy.call("POST", "/api/enrol", {"code": "WRONG"}, source=source, X_Forwarded_For=f"10.0.0.{n}")[0]
            for n in range(count)
        ]

    guessing = tries("127.0.0.2", 12)
    assert guessing[:4] == [422] * 4 and guessing[-1] == 429
    assert tries("127.0.0.3", 1) == [422]


def test_figures_stay_inside(proxy: Proxy) -> None:
    for claimed in ({}, {"X_Forwarded_For": "127.0.0.1"}):
        status, _, body = proxy.call("GET", "/metrics", **claimed)
        assert status == 403 and b"plytide_" not in body
    assert proxy.call("GET", "/metrics/")[0] == 404
    assert proxy.call("GET", "/healthz")[0] == 200


def test_the_proxy_takes_as_much_as_the_server() -> None:
    """More, and the server refuses a body it has not read: the proxy then may see a broken connection, and say 503."""
    assert re.findall(r"client_max_body_size (\d+);", written("nginx")) == [str(Settings(Path()).body_limit)]


@pytest.mark.parametrize("size", [2_000_001, 6_000_000], ids=["a byte too much", "far too much"])
def test_too_much_at_once_is_refused_in_words(proxy: Proxy, size: int) -> None:
    body = b'{"code": "%s"}' % (b"x" * (size - len('{"code": ""}')))
    status, headers, said = proxy.call("POST", "/api/enrol", body)
    assert status == 413 and str(headers["Content-Type"]).startswith("application/json")
    assert "too much" in json.loads(said)["error"]["message"]


def test_a_caller_who_trickles_or_falls_silent_is_cut_off(proxy: Proxy) -> None:
    def is_cut_off(first: bytes, drip: bytes) -> bool:
        with proxy.open() as stream:
            stream.sendall(first)
            until = time.monotonic() + SECONDS * 60  # it takes one; the rest is a busy machine's
            stream.settimeout(0.3)
            while time.monotonic() < until:
                try:
                    if drip:
                        stream.sendall(drip)
                    if stream.recv(4096) == b"":
                        return True
                except TimeoutError:
                    continue
                except OSError:
                    return True
            return False

    head = b"POST /api/enrol HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\n"
    assert is_cut_off(head, b"X-A: b\r\n")  # a header that never ends
    assert is_cut_off(head + b"\r\n{", b"")  # a body that never comes
    assert proxy.call("GET", "/healthz")[0] == 200


def test_a_flood_from_one_address_is_held_back_and_others_are_served(proxy: Proxy) -> None:
    statuses = set()
    connection = http.client.HTTPSConnection(
        "localhost", proxy.port, context=proxy.trust, timeout=20, source_address=("127.0.0.4", 0)
    )
    for _ in range(1500):
        connection.request("GET", "/healthz")
        answer = connection.getresponse()
        body = answer.read()
        statuses.add(answer.status)
        if answer.status == 429:
            assert answer.headers["Retry-After"] and json.loads(body)["error"]["code"] == "wait"
            break
    connection.close()
    assert statuses == {200, 429}
    assert proxy.call("GET", "/healthz", source="127.0.0.5")[0] == 200


def test_while_the_server_is_away_a_phone_hears_when_to_come_back(proxy: Proxy) -> None:
    proxy.server.process.terminate()
    proxy.server.process.wait(120)
    status, headers, body = proxy.call("GET", "/api/me")
    assert status == 503 and headers["Retry-After"] == "10"
    assert "Nothing is lost" in json.loads(body)["error"]["message"]


# The unit


@pytest.fixture
def unit(tmp_path: Path) -> Path:
    if shutil.which("systemd-analyze") is None:
        pytest.skip("no systemd-analyze here")
    path = tmp_path / "plytide.service"
    command = str(Path(sys.executable).with_name("plytide"))
    path.write_text(replaced(written("ini"), ("/opt/plytide/.venv/bin/plytide", command)))
    return path


def test_systemd_finds_no_fault_in_the_unit(unit: Path) -> None:
    said = subprocess.run(["systemd-analyze", "verify", str(unit)], capture_output=True, text=True, timeout=300)
    assert (said.returncode, [line for line in said.stderr.splitlines() if "plytide" in line]) == (0, [])


def test_the_unit_can_be_given_the_databases_key_as_a_credential(unit: Path) -> None:
    lines = [re.findall(rf"`({name}=[^`]+)`", RUNNING) for name in ("LoadCredentialEncrypted", "Environment")]
    (credential,), (variable,) = lines
    unit.write_text(replaced(unit.read_text(), ("[Install]", f"{credential}\n{variable}\n\n[Install]")))
    assert "%d/database.key" in variable and "database.key:" in credential
    test_systemd_finds_no_fault_in_the_unit(unit)


def test_the_unit_leaves_the_server_little_it_could_do(unit: Path) -> None:
    command = ["systemd-analyze", "security", "--offline=true", "--threshold=20", str(unit)]
    said = subprocess.run(command, capture_output=True, text=True, timeout=300)
    if "unrecognized option" in said.stderr:
        pytest.skip("this systemd-analyze is too old to judge a unit that is not installed")
    assert said.returncode == 0, said.stdout[-200:]  # an exposure of 2.0 at most, of 10


def test_the_unit_starts_the_command_as_it_is(unit: Path) -> None:
    (line,) = re.findall(r"^ExecStart=(.+)$", unit.read_text(), re.MULTILINE)
    command, *arguments = line.split()
    assert arguments[0] == "serve"
    said = subprocess.run([command, *arguments], capture_output=True, text=True, timeout=120)
    assert said.returncode == 2 and "holds no clinic yet" in said.stderr, said.stderr


def test_a_server_that_did_not_start_leaves_no_folder_of_figures_to_the_next(tmp_path: Path) -> None:
    assert main(["serve", "--data", str(tmp_path / "nothing"), "--port", str(free_port())]) != 0
    assert "PROMETHEUS_MULTIPROC_DIR" not in os.environ
