"""Phones, a clumsy network and the real app over real files; what each may do, and what must always hold."""

from __future__ import annotations

import copy
import json
import shutil
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

from plytide.engine.series import replaced, resolved
from plytide.http.app import create_app
from plytide.settings import Settings
from plytide.storage import audit, message
from plytide.storage import history as histories
from plytide.storage.files import backup
from plytide.storage.sqlite import connect, write
from tests.actors import Actor, Cast, Clock
from tests.sync_model.phone import ALL, Json, Phone, Rules

NOON = datetime(2025, 9, 15, 12, 0, tzinfo=UTC)


class Broken(AssertionError):
    """A promise that did not hold."""


class World:
    """Two phones on one limb, one on two limbs of somebody else. Small pages and batches, so that they matter."""

    def __init__(self, cast: Cast, second: Actor, folder: Path, seed: int, rules: Rules = ALL) -> None:
        made: Settings = cast.app.config["SETTINGS"]
        self.folder, self.random = folder, Random(seed)
        shutil.copytree(made.data_dir, folder / "data")
        self.clock = Clock(NOON)
        self.settings = replace(made, data_dir=folder / "data", now=self.clock, page_size=4)
        self.phones = [
            Phone(actor.headers["Authorization"], actor.get("/api/me").get_json()["device"]["id"], limbs, rules, 3)
            for actor, limbs in (
                (cast.anouk.phone, cast.anouk.limb_ids),
                (second, cast.anouk.limb_ids),
                (cast.dov.phone, cast.dov.limb_ids),
            )
        ]
        self.skew = [timedelta(0)] * len(self.phones)
        self.limb_ids = (*cast.anouk.limb_ids, *cast.dov.limb_ids)
        self.path = next(p for p in (folder / "data" / "clinics").glob("*.db") if "marram" in p.name)
        self.said: dict[str, Json] = {}
        self.bad: set[str] = set()
        self.safe: set[str] = set()  # receipted, and no restore since
        self.person_ids = (cast.anouk.id, cast.anouk.id, cast.dov.id)  # whose phone each is
        self.asked: list[Json] = []  # what the clinic wrote, as the phones have it
        self.safe_answers: set[str] = set()
        self.looked: set[str] = set()  # the receipts that were checked
        self.wandering: list[tuple[int, Json]] = []  # calls the network may still deliver, late or again
        self.backups: list[Path] = []
        self.start()

    # What may happen

    def start(self) -> None:
        """The server, started (again)."""
        self.app = create_app(self.settings)

    def write(self, who: int, limb: int, days_ago: int, *, bad: bool = False, **said: Any) -> None:
        phone, n = self.phones[who], len(self.said)
        # The phone's clock makes the id: it may say any time at all.
        made_at = int((self.clock.now + self.skew[who]).timestamp() * 1000) & 0xFFFFFFFFFFFF
        day = (NOON - timedelta(days=days_ago)).date().isoformat()
        checkin = {
            "id": f"{made_at:012x}-{n:04}",
            "limb_id": phone.limb_ids[limb % len(phone.limb_ids)],
            "date": day,
            "stack": [{"ply": 3, "make": "single"}],
            "comfort": 11 if bad else self.random.randint(0, 10),
            "hours_worn": self.random.choice([None, 7.0, 7.5]),
            "note": f"entry {n}",
            "written_at": (self.clock.now + self.skew[who]).isoformat(),
            **said,
        }
        self.said[checkin["id"]] = checkin
        if bad:
            self.bad.add(checkin["id"])
        phone.save(checkin)

    def amend(self, who: int, which: int, *, withdraw: bool) -> None:
        """A correction, or a withdrawal, of anything this phone holds."""
        known = sorted(id_ for id_, row in self.phones[who].disk.rows.items() if row.state != "refused")
        if known:
            row = self.phones[who].disk.rows[known[which % len(known)]]
            limb = self.phones[who].limb_ids.index(row.checkin["limb_id"])
            day = (NOON.date() - datetime.fromisoformat(row.checkin["date"]).date()).days
            self.write(who, limb, day, replaces=row.checkin["id"], withdrawn=withdraw)

    def ask(self, who: int) -> None:
        """The clinic asks the person of this phone a question, which every phone of theirs has at once."""
        db = connect(self.path)
        try:
            values = {"person_id": self.person_ids[who], "kind": "question", "text": f"question {len(self.asked)}"}
            values |= {"choices": ["Yes", "No"], "for_role": "all", "by_staff": "ida", "limb_id": None}
            with write(db):
                message_id = message.add(db, values, self.clock.now)
        finally:
            db.close()
        self.asked.append(values | {"id": message_id})

    def answer(self, who: int, which: int) -> None:
        """One answer to anything this phone was asked, in the outbox until a receipt names it."""
        mine = [one for one in self.asked if one["person_id"] == self.person_ids[who]]
        if not mine:
            return
        about, phone = mine[which % len(mine)], self.phones[who]
        at = (self.clock.now + self.skew[who]).isoformat()
        count = sum(len(each.disk.answers) for each in self.phones) + len(self.said)
        said = {"id": f"answer-{who}-{count}-{self.random.random()}", "message_id": about["id"], "event": "answer"}
        copy = {name: about[name] for name in ("kind", "text", "choices")} | {"at": at, "by": "ida"}
        phone.answer(said | {"person_id": about["person_id"], "choice": "Yes", "said_at": at, "message": copy})

    def deliver(self, who: int, sent: Json) -> Json | None:
        """A call that reaches the server; its answer, through JSON as JavaScript writes it."""
        actor = Actor(self.app, {"Authorization": self.phones[who].token})
        body = json.dumps(sent).replace(".0,", ",")
        answer = actor.call("POST", "/api/sync", data=body, content_type="application/json")
        if answer.status_code != 200:
            return None
        said: Json = answer.get_json()
        return said

    def call(self, who: int, fault: str = "none") -> bool:
        """One call of a phone with one fault of the network or of the page; whether the phone heard an answer."""
        phone = self.phones[who]
        sent = copy.deepcopy(phone.envelope((self.clock.now + self.skew[who]).isoformat()))
        if fault == "request lost":
            return False
        if fault == "request late":
            self.wandering.append((who, sent))
            return False
        answer = self.deliver(who, sent)
        if fault == "request twice":
            answer = self.deliver(who, sent)
        if fault == "request again later":
            self.wandering.append((who, sent))
        if answer is None or fault == "answer lost":
            return False
        if fault == "page dies":
            phone.learn(sent, answer, dies=True)
            return False
        for receipt in answer["receipts"]:
            if receipt["status"] in ("kept", "already"):
                self.safe.add(receipt["id"])
            elif receipt["id"] not in self.bad:
                raise Broken(f"refused a good entry: {receipt}")
        for receipt in answer.get("answer_receipts", []):
            if receipt["status"] == "refused":
                raise Broken(f"refused a good answer: {receipt}")
            self.safe_answers.add(receipt["id"])
        phone.learn(sent, answer)
        return True

    def stray(self, which: int) -> None:
        """A call long given up arrives after all; nobody hears the answer."""
        if self.wandering:
            who, sent = self.wandering.pop(which % len(self.wandering))
            self.deliver(who, sent)

    def back_up(self) -> None:
        target = self.folder / f"backup-{len(self.backups)}"
        backup.backup(self.settings.data_dir, target, self.clock.now)
        self.backups.append(target)

    def restore(self, which: int) -> None:
        if self.backups:
            backup.restore(self.backups[which % len(self.backups)], self.settings.data_dir, force=True)
            self.safe.clear()
            self.safe_answers.clear()
            self.start()

    def lose_phone(self, who: int) -> None:
        """A phone falls into the water and comes back from its maker, enrolled as before and empty."""
        phone = self.phones[who]
        held = {id_ for id_, row in phone.disk.rows.items() if row.state != "kept"}
        if not held and not phone.answers_waiting():
            phone.disk = type(phone.disk)()

    def clock_jumps(self, who: int, hours: float) -> None:
        self.skew[who] = timedelta(hours=hours)

    # What must always hold

    def kept(self) -> Counter[str]:
        """How often each entry is kept, by what it says: an entry under another id would count too."""
        db = connect(self.path)
        try:
            return Counter(row[0] for row in db.conn.execute("SELECT body ->> 'note' FROM checkin"))
        finally:
            db.close()

    def answers_kept(self) -> set[str]:
        db = connect(self.path)
        try:
            return {row[0] for row in db.conn.execute("SELECT id FROM message_event WHERE event = 'answer'")}
        finally:
            db.close()

    def check(self) -> None:
        """What was receipted is there once; nothing is there twice, and nothing that nobody said."""
        kept = self.kept()
        twice = [note for note, times in kept.items() if times > 1]
        if twice:
            raise Broken(f"kept twice: {twice}")
        lost = [id_ for id_ in self.safe if not kept[self.said[id_]["note"]]]
        if lost:
            raise Broken(f"receipted and not there: {lost}")
        # Only when something was heard of answers since: a connection for each step would cost the walks their length.
        gone = self.safe_answers - self.answers_kept() if self.safe_answers != self.looked else set()
        self.looked = set(self.safe_answers)
        if gone:
            raise Broken(f"an answer was receipted and is not there: {gone}")
        known = {said["note"] for id_, said in self.said.items() if id_ not in self.bad}
        if kept.keys() - known:
            raise Broken(f"kept and never said: {kept.keys() - known}")

    def settle(self) -> None:
        """The network is fine for a while: every phone syncs until it has nothing to send and nothing to read."""
        for _ in range(2):  # twice: what the second phone brings must come to the first
            for who, phone in enumerate(self.phones):
                for _ in range(60):
                    before = phone.disk.cursor
                    if not self.call(who):
                        raise Broken("a good call went unanswered")
                    if phone.disk.cursor == before and not phone.waiting() and not phone.answers_waiting():
                        break
                else:
                    raise Broken("a phone never comes to rest")
        self.check()
        kept = self.kept()
        for id_, said in self.said.items():
            held = [p.disk.rows[id_].state for p in self.phones if id_ in p.disk.rows]
            if id_ in self.bad:
                if held != ["refused"]:
                    raise Broken(f"a refused entry is no longer seen as refused: {held}")
            elif held and not kept[said["note"]]:
                raise Broken(f"on a phone and not at the clinic: {id_}")
        there = self.answers_kept()
        if self.safe_answers - there:
            raise Broken(f"an answer was receipted and is not there: {self.safe_answers - there}")
        for phone in self.phones:
            if phone.disk.answers.keys() - there:
                raise Broken(f"an answer is on a phone and not at the clinic: {phone.disk.answers.keys() - there}")
        self._compare_pictures()

    def _compare_pictures(self) -> None:
        db = connect(self.path)
        try:
            for limb_id in self.limb_ids:
                history = histories.history(db, limb_id)
                assert history is not None
                clinic = sorted(c.id for c in resolved(history.checkins))
                for who, phone in enumerate(self.phones):
                    if limb_id in phone.limb_ids and phone.picture(limb_id) != clinic:
                        raise Broken(f"phone {who} and the clinic show two pictures of {limb_id}")
                gone = replaced(history.checkins)
                shown = sorted(c.id for c in history.checkins if c.id not in gone and not c.withdrawn)
                if shown != clinic:
                    raise Broken("the clinic's log and its assessment show two pictures")
                order = [c.seq for c in history.checkins]
                if order != sorted(set(order)):
                    raise Broken("out of order")
            broken = audit.first_broken_line(db)
            if broken is not None:
                raise Broken(f"the audit chain breaks at {broken}")
        finally:
            db.close()

    # A walk at random, for the tests of broken rules

    FAULTS = ("none", "none", "none", "request lost", "request late", "answer lost", "request twice", "page dies")

    def step(self) -> None:
        pick, who = self.random.random(), self.random.randrange(len(self.phones))
        if pick < 0.30:
            self.write(who, self.random.randrange(2), self.random.randrange(12), bad=self.random.random() < 0.05)
        elif pick < 0.40:
            self.amend(who, self.random.randrange(50), withdraw=self.random.random() < 0.3)
        elif pick < 0.42:
            self.ask(who)
        elif pick < 0.45:
            self.answer(who, self.random.randrange(9))
        elif pick < 0.80:
            self.call(who, self.random.choice((*self.FAULTS, "request again later")))
        elif pick < 0.86:
            self.stray(self.random.randrange(9))
        elif pick < 0.89:
            self.clock_jumps(who, self.random.choice((0, -30, 24 * 400)))
        elif pick < 0.92:
            self.back_up()
        elif pick < 0.95:
            self.restore(self.random.randrange(9))
        elif pick < 0.97:
            self.lose_phone(who)
        elif pick < 0.98:
            self.clock.forward(hours=3)
        else:
            self.start()
        self.check()

    def walk(self, steps: int) -> None:
        for _ in range(steps):
            self.step()
        self.settle()
