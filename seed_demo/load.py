"""Stories in by the front door: the clinic's own calls make the people, each phone enrols and syncs its log.

Nothing here knows the database. What a story holds that has not happened yet by `now` stays out.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from seed_demo import drawn
from seed_demo.door import Door, Refused, Staff, answered, door_to, sign_in
from seed_demo.practice import Practice, read_ahead
from seed_demo.stories import LimbStory, Story, without
from seed_demo.workshop import Workshop

if TYPE_CHECKING:
    from flask import Flask

BATCH = 500  # the most check-ins one call may hold
EVERY = 3  # days from sync to sync: fewer than a silence that is told of, or each gap would look like one
Json = dict[str, Any]


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
        answer: Json = answered(self.door, "POST", "/api/sync", body, {"Authorization": f"Bearer {self.token}"})
        return answer

    def photo(self, entry: Json, photo_id: str) -> None:
        path = f"/api/photos/{photo_id}?limb_id={entry['limb_id']}&checkin_id={entry['id']}"
        answered(self.door, "PUT", path, drawn.photo(entry["skin"]), {"Authorization": f"Bearer {self.token}"})


@dataclass(frozen=True, slots=True)
class Loaded:
    """What was made: the staff session, every phone, and the server's ids by the stories' keys."""

    staff: Staff
    phones: tuple[Phone, ...]
    person_ids: Mapping[str, str]
    limb_ids: Mapping[str, str]
    kept: int


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
    practice: Practice | None = None,
) -> Loaded:
    """Make the people, limbs and sockets, enrol the phones, and send what was written up to `now`.

    With the server's own `clock` each phone syncs as it went: every few days at first, daily in the last two weeks, and
    at once when there is something of note, or a matter of time alone begins or ends. With a `practice` the clinic has
    its mornings and its rounds in between, on each of its days.
    """
    told = list(stories)
    door = door_to(target)
    evenings = evenings_until(told, now) if clock else [now]
    plan = {story.key: round_days(story, evenings) for story in told}
    rounds = {story.key: [each.date() for each in evenings if stamp(each) >= first_word(story)] for story in told}
    read = read_ahead(told, rounds) if practice else {}
    phones: list[Phone] = []
    person_ids: dict[str, str] = {}
    limb_ids: dict[str, str] = {}
    waiting: dict[str, list[tuple[Phone, list[Json]]]] = {}
    deeds: dict[str, list[Deed]] = {}
    workshop = Workshop(now.date())
    kept = 0
    for evening in evenings:
        joining = [
            story
            for story in told
            if story.key not in waiting and (evening == now or first_word(story) <= stamp(evening))
        ]
        if clock and practice:
            clock.now = morning = min(evening, evening.replace(hour=9, minute=10))
            if evening == evenings[0]:
                practice.open(morning)
            practice.morning(morning, now.date())
            if any(due_by(each, evening) for each in deeds.values()):
                enter(practice.staff(morning), deeds, evening)
            workshop.work(practice.staff(morning), morning.date())
        if clock:
            clock.now = evening
        if joining:
            staff = practice.staff(evening) if practice else sign_in(door, login, password)
            for story in joining:
                person_ids[story.key] = admit(staff, story, len(person_ids), limb_ids)
                own = {role: enrol(staff, story, role, person_ids[story.key], limb_ids) for role in story.roles}
                phones += own.values()
                waiting[story.key] = list(by_phone(story, own, limb_ids, now))
                made = staff.call("GET", f"/api/clinic/people/{person_ids[story.key]}")["limbs"]
                for limb in story.limbs:
                    sockets = next(one["sockets"] for one in made if one["id"] == limb_ids[limb.key])
                    deeds[limb.key] = deeds_of(limb_ids[limb.key], limb, sockets)
                    workshop.expect(limb_ids[limb.key], limb)
                    if practice:
                        practice.readings[limb_ids[limb.key]] = read[limb.key]
            if practice:
                workshop.work(staff, evening.date())
        heard: list[str] = []  # limbs whose person's log is all here tonight
        for story in told:
            if story.key not in waiting:
                continue
            own_limbs = [limb_ids[limb.key] for limb in story.limbs]
            news = practice is not None and evening != now and practice.would_say_other(evening, own_limbs)
            if evening not in plan[story.key] and evening != now and not news:
                continue
            heard += own_limbs
            for phone, entries in waiting[story.key]:
                due = [entry for entry in entries if entry["written_at"] <= stamp(evening)]
                del entries[: len(due)]
                if due:
                    kept += send(phone, due)
                if practice:
                    for limb_id in {entry["limb_id"] for entry in due if entry["skin"] or entry["signs"]}:
                        practice.told.setdefault(limb_id, []).append(evening.isoformat())
        if practice and evening != now:
            practice.evening(evening, heard)
    staff = sign_in(door, login, password)
    enter(staff, deeds, now)
    workshop.work(staff, now.date())
    return Loaded(staff, tuple(phones), person_ids, limb_ids, kept)


def evenings_until(stories: list[Story], now: datetime) -> list[datetime]:
    """Every evening since the first word, the last being now."""
    first = min((story.checkins[0]["written_at"] for story in stories if story.checkins), default=stamp(now))
    start = min(datetime.fromisoformat(first), now)
    late = start.replace(hour=23, minute=30, second=0, microsecond=0)
    count = (now - late).days + 1
    return [each for n in range(count + 1) if (each := late + timedelta(days=n)) < now] + [now]


def round_days(story: Story, evenings: list[datetime]) -> set[datetime]:
    """The evenings on which the phones of a person sync: every few days, then daily, and with something of note."""
    first = first_word(story)
    daily = evenings[-1] - timedelta(days=14)
    regular = {each for n, each in enumerate(evenings) if n % EVERY == 0 or each >= daily}
    noted = sorted(entry["written_at"] for entry in story.checkins if entry["skin"] or entry["signs"] or entry["falls"])
    stamps = [stamp(each) for each in evenings]
    found = {evenings[at] for one in noted if (at := bisect_left(stamps, one)) < len(evenings)}
    return {each for each in regular | found if stamp(each) >= first}


def first_word(story: Story) -> str:
    """When a person can join: at the first check-in, and not before every amputation has been."""
    amputated = [str(limb.limb["amputated_on"]) for limb in story.limbs if limb.limb.get("amputated_on")]
    return max([str(entry["written_at"]) for entry in story.checkins[:1]] + amputated, default="")


def admit(staff: Staff, story: Story, nth: int, limb_ids: dict[str, str]) -> str:
    """A person with limbs, sockets and visits, on the list of one of the prosthetists; the person's id."""
    clinicians = [one["id"] for one in staff.call("GET", "/api/clinic/staff")["staff"] if one["role"] == "prosthetist"]
    whose: Json = {"clinician_id": clinicians[nth % len(clinicians)]} if clinicians else {}
    number = f"01632 960{400 + nth % 500}"  # kept free for drama, as the clinic's own
    whose |= {"telephones": [{"number": number, "whose": "caregiver" if story.caregiver else "own", "best": None}]}
    person_id: str = staff.call("POST", "/api/clinic/people", {**story.person, **whose})["id"]
    for limb in story.limbs:
        limb_ids[limb.key] = make_limb(staff, person_id, limb)
    for visit in story.visits:
        staff.book(f"/api/clinic/people/{person_id}/visits", visit)
    return person_id


def stamp(moment: datetime) -> str:
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


#: What this invented clinic writes for every phone.
POCKET = {
    "loose": "Add one thin sock. At 10-ply call us.",
    "tight": "Take one sock off. Rest ten minutes, then try again.",
    "care": "Wash the liner each night with mild soap. Let it dry inside out.",
    "bring": "All your socks, your liner and the shoes you wear most.",
}


def make_limb(staff: Staff, person_id: str, limb: LimbStory) -> str:
    """A limb with its sockets; what was done and measured comes when its day has come (`enter`)."""
    limb_id: str = staff.call("POST", f"/api/clinic/people/{person_id}/limbs", limb.limb)["id"]
    made = 1 if limb.making and limb.making.finished else 0  # the last one is entered where it is made
    for socket in limb.sockets[: len(limb.sockets) - made]:
        staff.call("POST", f"/api/clinic/limbs/{limb_id}/sockets", without(socket, "id", "suspensions"))
    staff.call("PATCH", f"/api/clinic/limbs/{limb_id}/pocket", POCKET)
    return limb_id


@dataclass(frozen=True, slots=True)
class Deed:
    """Something the clinic enters on its day."""

    on: str
    method: str
    path: str
    body: Json


def deeds_of(limb_id: str, limb: LimbStory, made: list[Json]) -> list[Deed]:
    """Suspensions switched, pads, measurements and interventions, on the sockets the server `made`; oldest first."""
    sockets = {
        socket["id"]: row["id"] for socket in limb.sockets for row in made if row["fitted_on"] == socket["fitted_on"]
    }
    at = f"/api/clinic/limbs/{limb_id}"
    found = [
        Deed(on, "PATCH", f"/api/clinic/sockets/{sockets[socket['id']]}", {"suspension": suspension})
        for socket in limb.sockets
        for on, suspension in socket["suspensions"]
    ]
    for pad in limb.pads:
        path = f"/api/clinic/sockets/{sockets[pad['socket_id']]}/pads"
        found.append(Deed(pad["on"], "POST", path, without(pad, "socket_id")))
    found += [Deed(one["on"], "POST", f"{at}/measurements", one) for one in limb.measurements]
    found += [Deed(one["on"], "POST", f"{at}/interventions", one) for one in limb.interventions]
    found += [Deed(one["on"], "POST", f"{at}/outcome-measures", one) for one in limb.outcome_measures]
    return sorted(found, key=lambda deed: deed.on)


def due_by(deeds: list[Deed], moment: datetime) -> bool:
    return bool(deeds) and deeds[0].on <= moment.date().isoformat()


def enter(staff: Staff, deeds: Mapping[str, list[Deed]], moment: datetime) -> None:
    """What was done up to the day of `moment`, in order; what is entered leaves the list."""
    for waiting in deeds.values():
        while due_by(waiting, moment):
            deed = waiting.pop(0)
            staff.call(deed.method, deed.path, deed.body)


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
    for entry in entries:
        for photo_id in entry.get("photos", ()):
            phone.photo(entry, photo_id)
    return kept
