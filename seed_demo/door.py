"""A call to the server, at an address or in this process, and a member of staff who is signed in."""

from __future__ import annotations

import http.client
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Protocol
from urllib.parse import urlsplit

if TYPE_CHECKING:
    from flask import Flask

MOST_TIMES = 200  # tried for one visit
Json = dict[str, Any]


class Refused(Exception):
    """door: the server refused something the stories hold."""


class Door(Protocol):
    """One call to the server, with JSON or the bytes of a photo: status, answer, headers."""

    def call(
        self, method: str, path: str, body: Json | bytes | None = None, headers: Mapping[str, str] | None = None
    ) -> tuple[int, Any, Mapping[str, str]]: ...


class HttpDoor:
    """A server at an address, over one connection kept open."""

    def __init__(self, base_url: str, timeout: float = 60) -> None:
        address = urlsplit(base_url)
        self.connection = http.client.HTTPConnection(address.hostname or "", address.port, timeout=timeout)

    def call(
        self, method: str, path: str, body: Json | bytes | None = None, headers: Mapping[str, str] | None = None
    ) -> tuple[int, Any, Mapping[str, str]]:
        text, kind = packed(body)
        sent = {**({"Content-Type": kind} if text else {}), **(headers or {})}
        try:
            self.connection.request(method, path, text, sent)
            answer = self.connection.getresponse()
        except (http.client.RemoteDisconnected, BrokenPipeError, ConnectionResetError):
            # The server may close an idle connection at any time; nothing was answered, so ask again.
            self.connection.close()
            self.connection.request(method, path, text, sent)
            answer = self.connection.getresponse()
        content = answer.read()
        return answer.status, json.loads(content) if content else None, dict(answer.headers)


class AppDoor:
    """The same for an app in this process."""

    def __init__(self, app: Flask) -> None:
        self.client = app.test_client(use_cookies=False)

    def call(
        self, method: str, path: str, body: Json | bytes | None = None, headers: Mapping[str, str] | None = None
    ) -> tuple[int, Any, Mapping[str, str]]:
        text, kind = packed(body)
        answer = self.client.open(path, method=method, data=text, content_type=kind, headers=dict(headers or {}))
        return answer.status_code, answer.get_json(silent=True), dict(answer.headers)


def packed(body: Json | bytes | None) -> tuple[bytes | None, str | None]:
    """A call's body and what it is."""
    if body is None or isinstance(body, bytes):
        return body, "image/jpeg" if body else None
    return json.dumps(body).encode(), "application/json"


def door_to(target: str | Flask) -> Door:
    return HttpDoor(target) if isinstance(target, str) else AppDoor(target)


@dataclass(frozen=True, slots=True)
class Staff:
    """A signed-in member of staff: `cookie` is a ready Cookie header value."""

    door: Door
    cookie: str
    csrf: str

    def call(self, method: str, path: str, body: Json | None = None) -> Any:
        headers = {"Cookie": self.cookie, "X-CSRF-Token": self.csrf}
        return answered(self.door, method, path, body, headers)

    def book(self, path: str, visit: Json, **beside: Any) -> Any:
        """A call that books a visit, with what goes beside it: where another stands in the way, half an hour later."""
        headers = {"Cookie": self.cookie, "X-CSRF-Token": self.csrf}
        for _ in range(MOST_TIMES):
            body = {**beside, "visit": visit} if beside else visit
            status, answer, _headers = self.door.call("POST", path, body, headers)
            if status != 409:
                break
            visit = later(visit, {one["code"] for one in answer["against"]})
        if not 200 <= status < 300:
            raise Refused(f"POST {path}: {status} {answer}")
        return answer


def later(visit: Json, against: set[str]) -> Json:
    """The next time to try: half an hour on, or nine o'clock of the next day."""
    then = datetime.fromisoformat(f"{visit['on']}T{visit['time']}") + timedelta(minutes=30)
    if against & {"closed", "hours"} or then.hour >= 17:
        then = datetime(then.year, then.month, then.day, 9) + timedelta(days=1)
    return {**visit, "on": then.date().isoformat(), "time": f"{then:%H:%M}"}


def answered(
    door: Door, method: str, path: str, body: Json | bytes | None = None, headers: Mapping[str, str] | None = None
) -> Any:
    status, answer, _ = door.call(method, path, body, headers)
    if not 200 <= status < 300:
        raise Refused(f"{method} {path}: {status} {answer}")
    return answer


def sign_in(door: Door, login: str, password: str) -> Staff:
    body = {"login": login, "password": password}
    status, answer, headers = door.call("POST", "/api/clinic/session", body)
    if status not in (200, 201):
        raise Refused(f"sign-in of {login}: {status} {answer}")
    cookie = headers["Set-Cookie"].split(";", 1)[0]
    return Staff(door, cookie, answer["csrf"])
