"""Stories in by the front door: the clinic's own calls make the people, each phone enrols and syncs its log.

Nothing here knows the database. What a story holds that has not happened yet by `now` stays out.
"""

from __future__ import annotations

import http.client
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any, Protocol
from urllib.parse import urlsplit

from seed_demo.stories import LimbStory, Story, without

if TYPE_CHECKING:
    from flask import Flask

BATCH = 500  # the most check-ins one call may hold
Json = dict[str, Any]


class Refused(Exception):
    """load: the server refused something the stories hold."""


class Door(Protocol):
    """One call to the server: status, answer, headers."""

    def call(
        self, method: str, path: str, body: Json | None = None, headers: Mapping[str, str] | None = None
    ) -> tuple[int, Any, Mapping[str, str]]: ...


class HttpDoor:
    """A server at an address, over one connection kept open."""

    def __init__(self, base_url: str, timeout: float = 60) -> None:
        address = urlsplit(base_url)
        self.connection = http.client.HTTPConnection(address.hostname or "", address.port, timeout=timeout)

    def call(
        self, method: str, path: str, body: Json | None = None, headers: Mapping[str, str] | None = None
    ) -> tuple[int, Any, Mapping[str, str]]:
        text = None if body is None else json.dumps(body).encode()
        sent = {**({"Content-Type": "application/json"} if text else {}), **(headers or {})}
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
        self, method: str, path: str, body: Json | None = None, headers: Mapping[str, str] | None = None
    ) -> tuple[int, Any, Mapping[str, str]]:
        answer = self.client.open(path, method=method, json=body, headers=dict(headers or {}))
        return answer.status_code, answer.get_json(silent=True), dict(answer.headers)


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


@dataclass(frozen=True, slots=True)
class Phone:
    """An enrolled phone and what it may write for."""

    door: Door
    token: str
    role: str
    person_id: str
    limb_ids: tuple[str, ...]

    def sync(self, checkins: list[Json]) -> Json:
        """One call of the phone's sync: what it sends, and the receipts for it."""
        body = {"schema": 1, "cursor": None, "checkins": checkins}
        answer: Json = answered(
            self.door, "POST", "/api/sync", body, {"Authorization": f"Bearer {self.token}"}
        )
        return answer


@dataclass(frozen=True, slots=True)
class Loaded:
    """What was made: the staff session, every phone, and the server's ids by the stories' keys."""

    staff: Staff
    phones: tuple[Phone, ...]
    person_ids: Mapping[str, str]
    limb_ids: Mapping[str, str]
    kept: int


def answered(
    door: Door, method: str, path: str, body: Json | None = None, headers: Mapping[str, str] | None = None
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


@dataclass
class Clock:
    """A server's clock that stands where the loading has got to, so that what is old was received long ago."""

    now: datetime

    def __call__(self) -> datetime:
        return self.now


def load(
    target: str | Flask,
    login: str,
    password: str,
    stories: Iterable[Story],
    now: datetime,
    clock: Clock | None = None,
) -> Loaded:
    """Make the people, limbs and sockets, enrol the phones, and send what was written up to `now`.

    With the server's own `clock` each phone syncs as it went: weekly at first, daily in the last two weeks.
    """
    told = list(stories)
    door = door_to(target)
    moments = sync_moments(told, now) if clock else [now]
    phones: list[Phone] = []
    person_ids: dict[str, str] = {}
    limb_ids: dict[str, str] = {}
    waiting: list[tuple[Phone, list[Json]]] = []
    pending, kept = told, 0
    staff = None
    for moment in moments:
        if clock:
            clock.now = moment
        until = stamp(moment)
        joining = [story for story in pending if moment == now or first_word(story) <= until]
        pending = [story for story in pending if story not in joining]
        if joining or moment == now:
            staff = sign_in(door, login, password)  # the session before has ended long since
        for story in joining:
            assert staff is not None
            person_ids[story.key] = admit(staff, story, len(person_ids), limb_ids)
            own = {role: enrol(staff, story, role, person_ids[story.key], limb_ids) for role in story.roles}
            phones += own.values()
            waiting += by_phone(story, own, limb_ids, now)
        for phone, entries in waiting:
            due = [entry for entry in entries if entry["written_at"] <= until]
            del entries[: len(due)]
            if due:
                kept += send(phone, due)
    assert staff is not None
    for story in told:
        known = staff.call("GET", f"/api/clinic/people/{person_ids[story.key]}")["limbs"]
        for limb in story.limbs:
            made = next(one["sockets"] for one in known if one["id"] == limb_ids[limb.key])
            enter_deeds(staff, limb_ids[limb.key], limb, made)
    return Loaded(staff, tuple(phones), person_ids, limb_ids, kept)


def first_word(story: Story) -> str:
    """When a person can join: at the first check-in, and not before every amputation has been."""
    amputated = [str(limb.limb["amputated_on"]) for limb in story.limbs if limb.limb.get("amputated_on")]
    return max([str(entry["written_at"]) for entry in story.checkins[:1]] + amputated, default="")


def admit(staff: Staff, story: Story, nth: int, limb_ids: dict[str, str]) -> str:
    """A person with limbs, sockets and visits, on the list of one of the prosthetists; the person's id."""
    clinicians = [one["id"] for one in staff.call("GET", "/api/clinic/staff")["staff"] if one["role"] == "prosthetist"]
    whose = {"clinician_id": clinicians[nth % len(clinicians)]} if clinicians else {}
    person_id: str = staff.call("POST", "/api/clinic/people", {**story.person, **whose})["id"]
    for limb in story.limbs:
        limb_ids[limb.key] = make_limb(staff, person_id, limb)
    for visit in story.visits:
        staff.call("POST", f"/api/clinic/people/{person_id}/visits", visit)
    return person_id


def stamp(moment: datetime) -> str:
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def sync_moments(stories: list[Story], now: datetime) -> list[datetime]:
    """When the phones synced, the last being now."""
    first = min((story.checkins[0]["written_at"] for story in stories if story.checkins), default=stamp(now))
    start = min(datetime.fromisoformat(first), now) - timedelta(days=1)
    daily = now - timedelta(days=14)
    moments = [start]
    while moments[-1] < now:
        moments.append(min(moments[-1] + timedelta(days=7 if moments[-1] < daily else 1), now))
    return moments


def make_limb(staff: Staff, person_id: str, limb: LimbStory) -> str:
    """A limb with its sockets; what was done and measured comes when its day has come (`enter_deeds`)."""
    limb_id: str = staff.call("POST", f"/api/clinic/people/{person_id}/limbs", limb.limb)["id"]
    for socket in limb.sockets:
        staff.call("POST", f"/api/clinic/limbs/{limb_id}/sockets", without(socket, "id", "suspensions"))
    return limb_id


def enter_deeds(staff: Staff, limb_id: str, limb: LimbStory, made: list[Json]) -> None:
    """Suspensions switched, pads, measurements and interventions, on the sockets the server `made`."""
    sockets = {socket["id"]: row["id"] for socket in limb.sockets for row in made if row["fitted_on"] == socket["fitted_on"]}
    for socket in limb.sockets:
        for _, suspension in socket["suspensions"]:
            staff.call("PATCH", f"/api/clinic/sockets/{sockets[socket['id']]}", {"suspension": suspension})
    for pad in limb.pads:
        staff.call("POST", f"/api/clinic/sockets/{sockets[pad['socket_id']]}/pads", without(pad, "socket_id"))
    for measurement in limb.measurements:
        staff.call("POST", f"/api/clinic/limbs/{limb_id}/measurements", measurement)
    for intervention in limb.interventions:
        staff.call("POST", f"/api/clinic/limbs/{limb_id}/interventions", intervention)


def enrol(staff: Staff, story: Story, role: str, person_id: str, limb_ids: Mapping[str, str]) -> Phone:
    """A code from the clinic, used once by the phone."""
    wanted = {"role": role, "person_ids": [person_id]}
    code = staff.call("POST", f"/api/clinic/people/{person_id}/enrolment-codes", wanted)["code"]
    owner = story.caregiver if role == "caregiver" else story.person["name"]
    label = f"{str(owner).split()[0]}'s phone"
    token = answered(staff.door, "POST", "/api/enrol", {"code": code, "label": label})["token"]
    return Phone(staff.door, token, role, person_id, tuple(limb_ids[limb.key] for limb in story.limbs))


def by_phone(
    story: Story, phones: Mapping[str, Phone], limb_ids: Mapping[str, str], now: datetime
) -> Iterator[tuple[Phone, list[Json]]]:
    """What each phone has to send, in the order it was written."""
    until = stamp(now)
    main = phones[story.roles[0]]
    for phone in phones.values():
        yield (
            phone,
            [
                {"limb_id": limb_ids[entry["limb"]], **without(entry, "limb", "by")}
                for entry in story.checkins
                if phones.get(entry["by"], main) is phone and entry["written_at"] <= until
            ],
        )


def send(phone: Phone, entries: list[Json]) -> int:
    """All entries in batches; how many the server says it keeps. A refused one is a fault of the story."""
    kept = 0
    for start in range(0, len(entries), BATCH):
        receipts = phone.sync(entries[start : start + BATCH])["receipts"]
        refused = [receipt for receipt in receipts if receipt["status"] == "refused"]
        if refused:
            raise Refused(f"check-ins refused: {refused[:3]}")
        kept += len(receipts)
    return kept
