"""The demo clinic's past: on each of its days a round is made, and its staff deal with what they are told.

A round says what the engine reads of what had arrived by that evening. The engine goes over each limb once, for all
the days on which a round will ask: asked a day at a time, 120 days of 30 people would take minutes.
Staff act through the clinic's own calls, on the morning after, each with a session of the server's own making.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from seed_demo.door import AppDoor, Staff
from seed_demo.people import PHYSICIAN, REACHED
from seed_demo.stories import Story

if TYPE_CHECKING:
    from flask import Flask

    from plytide.engine.assess import Reading

Json = dict[str, Any]

OFFICE = "office"  # the manager's sign-in name
UNTOUCHED_DAYS = 3  # what is younger is for whoever opens the demo
WEEK = 7
SEEN_AGAIN_DAYS = 6  # a call is left standing for so long before somebody puts it off
TOLD = {
    "urgent": (
        "Thank you for telling us. Leave the socket off. We call you this morning.",
        "We have seen this. Please keep the socket off until we have looked at it together.",
        "Thank you. We keep a place free for you today. Come without the socket on.",
    ),
    "call": (
        "We have seen this and call you today.",
        "Thank you. Bring all your socks to the next visit, please.",
        "We have seen this. Tell us if it comes back.",
    ),
}
VISIT_BOOKED = "Visit booked"
CHAIRS = ["Room 1", "Room 2"]
CLOSED = {
    "urgent": (
        ("Seen and adjusted", "We looked at it together. Wear it for two hours at first, then look."),
        ("Called: advice given", "The skin is closed again. You may wear it as before; look every evening."),
    ),
    "call": (("Called: advice given", None), ("Seen and adjusted", None), (VISIT_BOOKED, None)),
    "note": (("Looked at: nothing to do", None), ("Called: advice given", None)),
}


@dataclass
class Practice:
    """The clinic behind `app`, which acts as its clock moves on."""

    app: Flask
    seed: int
    logins: Sequence[str]
    readings: dict[str, Reading] = field(default_factory=dict)  # by the server's limb id
    told: dict[str, list[str]] = field(default_factory=dict)  # when something of note about a limb arrived
    said: dict[str, tuple[Any, ...]] = field(default_factory=dict)
    told_on: dict[str, date] = field(default_factory=dict)
    deeds: int = 0

    def __post_init__(self) -> None:
        from plytide.storage.clinics import open_clinic
        from plytide.storage.registry.registry import Registry

        data = self.app.config["SETTINGS"].data_dir
        self.registry = Registry(data)
        whose = self.registry.whose_login(self.logins[0])
        assert whose is not None
        self.clinic_id = whose[0]
        self.db = open_clinic(data, self.registry, self.clinic_id)
        self.rng = np.random.default_rng([self.seed, 4])

    def close(self) -> None:
        self.db.close()
        self.registry.close()

    def staff(self, now: datetime, login: str | None = None) -> Staff:
        """A member of staff with a session of this moment; by the password each would cost a tenth of a second."""
        whose = self.registry.whose_login(login or self.logins[0])
        assert whose is not None
        token, session = self.registry.open_session(*whose, "demo", now, timedelta(hours=1))
        return Staff(AppDoor(self.app), f"{self.app.config['SETTINGS'].session_cookie}={token}", session.csrf)

    def open(self, now: datetime) -> None:
        """The first day: the clinic says how it is reached, and records who agreed to the safety rules."""
        office = self.staff(now, OFFICE)
        office.call("PATCH", "/api/clinic/settings", REACHED | {"closed_on": closed_days(now.date()), "chairs": CHAIRS})
        mark = office.call("GET", "/api/clinic/safety-rules")["sha256"]
        office.call("POST", "/api/clinic/safety-rules/agreements", {"physician": PHYSICIAN, "sha256": mark})

    def morning(self, now: datetime, today: date) -> None:
        """Acknowledge, put off and close what was said before, as a clinic might."""
        from plytide.storage import signals

        waiting = signals.unclosed(self.db, list(self.said))
        due = [
            (signal, *wanted)
            for limb_id in self.said
            for signal in sorted(waiting[limb_id], key=lambda one: (one["since"], one["kind"], one["because"]))
            if (wanted := self.deed_for(signal, now.date(), today)) is not None
        ]
        if not due:
            return
        acting = self.staff(now, self.logins[int(self.rng.integers(len(self.logins)))])
        for signal, action, given in due:
            path = f"/api/clinic/signals/{signal['id']}/{action}"
            if "visit" in given:
                acting.book(path, **given)
            else:
                acting.call("POST", path, given)
            self.deeds += 1

    def deed_for(self, signal: Json, day: date, today: date) -> tuple[str, Json] | None:
        """What is done about an unclosed signal this morning: (action, what goes with it), or None."""
        opened = date.fromisoformat(signal["opened_at"][:10])
        if (today - opened).days < UNTOUCHED_DAYS:
            return None
        age, level = (day - opened).days, signal["level"]
        answered = signal["kind"] in ("safety", "skin")
        if signal["status"] == "open" and signal["holds"]:
            if level == "note" or (level == "call" and self.rng.random() < 0.4):
                return None
            if level == "call" and age >= SEEN_AGAIN_DAYS and not answered and self.rng.random() < 0.5:
                return "snooze", {"until": (day + timedelta(days=7)).isoformat()}
            words = {"answer": self.one_of(TOLD[level])} if answered else {}
            return "acknowledge", words
        if not signal["holds"] and signal["status"] != "snoozed" and self.rng.random() < 0.6:
            outcome, words = self.one_of(CLOSED[level])
            visit = {"visit": self.visit_after(day)} if outcome == VISIT_BOOKED else {}
            return "close", {"outcome": outcome, **visit, **({"answer": words} if answered and words else {})}
        return None

    def visit_after(self, day: date) -> Json:
        """A visit about a week on, on a weekday: nothing counts as booked without one."""
        on = day + timedelta(days=7)
        while on.weekday() >= 5 or on.isoformat() in closed_days(day):
            on += timedelta(days=1)
        return {"on": on.isoformat(), "time": "10:30", "what": "socket check"}

    def one_of(self, choices: Sequence[Any]) -> Any:
        return choices[int(self.rng.integers(len(choices)))]

    def would_say_other(self, now: datetime, limb_ids: Iterable[str]) -> bool:
        """Whether a round would say something else of one of these limbs than was said before.

        Asked each evening of each limb, whether or not anything came: some matters are of time alone.
        """
        return any(self.said_of(limb_id, now) != self.said.get(limb_id, ()) for limb_id in limb_ids)

    def said_of(self, limb_id: str, now: datetime) -> tuple[Any, ...]:
        """The signals of a limb on an evening, by what makes them another one."""
        from plytide.engine.thresholds import DEFAULTS

        found = self.readings[limb_id].signals(now.date(), DEFAULTS, *self.looks(limb_id))
        return tuple((one.kind, one.level, one.rule, one.since, one.evidence) for one in found)

    def looks(self, limb_id: str) -> tuple[tuple[date, ...], tuple[Any, ...]]:
        from plytide.storage import history as histories
        from plytide.storage import signals

        seen, told = signals.looks(self.db, limb_id), self.told.get(limb_id, ())
        return histories.clinic_looks([look[0] for look in seen], told), histories.looks_at(seen, told)

    def evening(self, now: datetime, limb_ids: Iterable[str]) -> None:
        """A round of these limbs: what is said of each is kept where it is not what was said before."""
        from plytide.engine.thresholds import DEFAULTS
        from plytide.storage import assessment as assessments
        from plytide.storage.sqlite import write
        from plytide.work import reassess

        answers, weekly = [], []
        for limb_id in limb_ids:
            said, last = self.said_of(limb_id, now), self.told_on.get(limb_id)
            news = said != self.said.get(limb_id)
            if not news and last is not None and (now.date() - last).days < WEEK:
                continue
            self.said[limb_id], self.told_on[limb_id] = said, now.date()
            found = self.readings[limb_id].assessment(now.date(), DEFAULTS, *self.looks(limb_id))
            facts, _ = self.readings[limb_id].days[now.date()]
            history = replace(facts.history, limb=replace(facts.history.limb, id=limb_id))
            waits = assessments.stale_since(self.db, limb_id)  # what had come by now is in the reading
            (answers if news else weekly).append((history, waits, replace(found, limb_id=limb_id)))
        reassess.say(self.db, answers, now)
        if weekly:  # nothing new for the worklist: what was told is kept for the clinic's own record alone
            with write(self.db) as db:
                for history, _, found in weekly:
                    reassess.keep_said(db, history, found, DEFAULTS.steady_margin_mm)


def closed_days(day: date) -> list[str]:
    """The winter holidays of this year and the next."""
    return [f"{year}-{rest}" for year in (day.year, day.year + 1) for rest in ("12-25", "12-26")]


def read_ahead(stories: Iterable[Story], days: Mapping[str, Sequence[date]]) -> dict[str, Reading]:
    """Every limb of the stories read in one pass, by its key, for the days on which rounds of its person will ask."""
    from plytide.engine import assess
    from plytide.wire import history

    keys, histories, asked = [], [], []
    for story in stories:
        for line in story.histories():
            known, _ = history.read(line)
            keys.append(known.limb.id)
            histories.append(known)
            asked.append(days[story.key])
    return dict(zip(keys, assess.read_caseload(histories, asked), strict=True))
