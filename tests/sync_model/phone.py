"""A phone by the rules of web/phone (rows.js, diary.js, sync.js): what it holds, what it offers, what it learns.

`disk` is what survives a crash of the page. Each broken rule is a switch, so that a test can see it caught.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

Json = dict[str, Any]

WIRE = (
    *("id", "limb_id", "date", "time", "offset", "moment", "stack", "fit", "signs", "comfort", "pain", "skin"),
    *("skin_checked", "signs_checked", "hours_worn", "activity", "falls", "weight_kg", "tags", "note", "prefilled"),
    *("replaces", "withdrawn", "written_at", "zone", "written_by", "proof", "photos"),
)
BATCH = 50
LAST = 2**53


@dataclass(frozen=True)
class Rules:
    """The safeguards of a phone. All on in the real one."""

    forgets_only_on_a_receipt: bool = True
    forgets_only_what_the_receipt_names: bool = True
    rows_and_cursor_together: bool = True
    offers_again_in_a_new_epoch: bool = True
    offers_others_entries_too: bool = True
    offers_answers_again: bool = True


ALL = Rules()


@dataclass
class Row:
    checkin: Json
    state: str  # "waiting", "kept", "refused"
    seq: int | None = None
    own: bool = True


@dataclass
class Answer:
    """What was answered to the clinic, with a copy of what it answers."""

    said: Json
    state: str = "waiting"


@dataclass
class Disk:
    rows: dict[str, Row] = field(default_factory=dict)
    answers: dict[str, Answer] = field(default_factory=dict)
    cursor: str | None = None
    epoch: str | None = None


@dataclass
class Phone:
    token: str
    device_id: str
    limb_ids: tuple[str, ...]
    rules: Rules = ALL
    batch: int = BATCH
    disk: Disk = field(default_factory=Disk)

    def save(self, checkin: Json) -> None:
        """Written to the disk before the screen says saved."""
        self.disk.rows[checkin["id"]] = Row(checkin, "waiting")

    def waiting(self) -> list[Row]:
        """Oldest first, so that a correction never goes before its original."""
        rows = [row for row in self.disk.rows.values() if row.state == "waiting"]
        return sorted(rows, key=lambda row: str(row.checkin["id"]))[: self.batch]

    def answer(self, said: Json) -> None:
        self.disk.answers[said["id"]] = Answer(said)

    def answers_waiting(self) -> list[Json]:
        return [one.said for one in self.disk.answers.values() if one.state == "waiting"][: self.batch]

    def envelope(self, client_now: str) -> Json:
        """A call to be sent. Nothing is taken out of the outbox by it."""
        rows = self.waiting()
        offered = [row.checkin for row in rows]
        if not self.rules.forgets_only_on_a_receipt:
            for row in rows:
                row.state = "kept"
        call = {"schema": 1, "cursor": self.disk.cursor, "checkins": offered, "client_now": client_now, "app": "model"}
        answers = self.answers_waiting()
        return {**call, "answers": answers} if answers else call

    def learn(self, sent: Json, answer: Json, *, dies: bool = False) -> None:
        """One answer, rows and cursor in one transaction; `dies`: the page ends before that commits."""
        if not self.rules.rows_and_cursor_together:
            self.disk.cursor, before = answer["cursor"], self.disk.epoch
            self.disk.epoch = answer["epoch"] if before is None else before
        if dies:
            return
        disk = self.disk
        for receipt in answer["receipts"]:
            row = disk.rows.get(receipt["id"])
            if row is not None:
                row.state = "refused" if receipt["status"] == "refused" else "kept"
        for receipt in answer.get("answer_receipts", []):
            answered = disk.answers.get(receipt["id"])
            if answered is not None:
                answered.state = "refused" if receipt["status"] == "refused" else "kept"
        if not self.rules.forgets_only_what_the_receipt_names:
            for row in disk.rows.values():
                row.state = "kept" if row.state == "waiting" else row.state
        if disk.epoch is not None and disk.epoch != answer["epoch"] and self.rules.offers_again_in_a_new_epoch:
            for row in disk.rows.values():
                if row.state == "kept" and (row.own or self.rules.offers_others_entries_too):
                    row.state = "waiting"
        if disk.epoch is not None and disk.epoch != answer["epoch"] and self.rules.offers_answers_again:
            for held in disk.answers.values():
                held.state = "waiting" if held.state == "kept" else held.state
        for change in answer["changes"]:
            if change["type"] == "checkin":
                checkin = {name: change[name] for name in WIRE if name in change}
                checkin["written_by"] = change["written_by"]["device_id"]
                here = disk.rows.get(change["id"])
                state = "waiting" if here and here.state == "waiting" else "kept"
                own = here.own if here else checkin["written_by"] == self.device_id
                disk.rows[change["id"]] = Row(checkin, state, change["seq"], own)
        disk.epoch, disk.cursor = answer["epoch"], answer["cursor"]

    def picture(self, limb_id: str) -> list[str]:
        """Ids of what stands: each entry in its last correction, without those taken back."""
        rows = {id_: row for id_, row in self.disk.rows.items() if row.checkin["limb_id"] == limb_id}
        rows = {id_: row for id_, row in rows.items() if row.state != "refused"}

        def root(row: Row) -> str:
            seen: set[str] = set()
            while (before := rows.get(row.checkin.get("replaces") or "")) and row.checkin["id"] not in seen:
                seen.add(row.checkin["id"])
                row = before
            return str(row.checkin.get("replaces") or row.checkin["id"])

        last: dict[str, Row] = {}
        for row in sorted(rows.values(), key=lambda row: (row.seq or LAST, row.checkin["id"])):
            last[root(row)] = row
        return sorted(row.checkin["id"] for row in last.values() if not row.checkin.get("withdrawn"))
