"""The demo clinic's shelf, and sockets made on a list of steps: one finished, one interrupted, one stopped.

Everything here is invented: no maker's names, sizes or steps.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from seed_demo.door import Staff
from seed_demo.habits import MakingPlan
from seed_demo.stories import LimbStory, without

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Shelved:
    """An item and its lots: (name, pieces or pairs, days from today to its last day). `ordered`: on its way."""

    kind: str
    name: str
    least: int
    lots: tuple[tuple[str, int, int | None], ...]
    size: str | None = None
    pairs: bool = False
    ply: int | None = None
    fits: tuple[float, float] | None = None  # circumference 4 cm above the end, mm
    ordered: int = 0


SHELF = (
    Shelved("liner", "Cushion liner", 2, (("C-2204", 3, 400),), "24", fits=(235, 260)),
    Shelved("liner", "Cushion liner", 2, (("C-2208", 1, 380),), "26", fits=(255, 280), ordered=2),
    Shelved("liner", "Cushion liner", 2, (("C-2190", 2, 25), ("C-2215", 3, 420)), "28", fits=(275, 305)),
    Shelved("liner", "Liner with sealing ring", 1, (("S-0917", 1, 210),), "30", fits=(295, 325)),
    Shelved("sock", "Nylon sheath", 4, (("", 11, None),), "long", pairs=True, ply=0),
    Shelved("sock", "1-ply sock", 6, (("", 14, None),), "long", pairs=True, ply=1),
    Shelved("sock", "3-ply sock", 6, (("", 4, None),), "long", pairs=True, ply=3),
    Shelved("sock", "5-ply sock", 6, (("", 9, None),), "long", pairs=True, ply=5),
    Shelved("lock", "Pin lock", 2, (("", 3, None),)),
    Shelved("kit", "Kit for forming on the limb", 1, (("K-31", 3, 18), ("K-36", 1, 160))),
    Shelved("other", "Gel pads, 4 mm", 5, (("G-7", 12, 700),)),
)


@dataclass
class Workshop:
    """What waits to be made, and the ids of what is on the shelf."""

    today: date
    shelf: dict[str, str] = field(default_factory=dict)
    waiting: list[tuple[str, LimbStory, MakingPlan]] = field(default_factory=list)
    made: int = 0

    def fill(self, staff: Staff) -> None:
        for nth, item in enumerate(SHELF):
            about = {"kind": item.kind, "name": item.name, "size": item.size, "least": item.least, "ply": item.ply}
            low, high = item.fits or (None, None)
            counted_in = "pair" if item.pairs else "unit"
            body = about | {"from_mm": low, "to_mm": high, "counted_in": counted_in}
            item_id = staff.call("POST", "/api/clinic/stock/items", body)["id"]
            self.shelf[" ".join(filter(None, (item.name, item.size)))] = item_id
            for n, (lot, count, ends) in enumerate(item.lots):
                move = {"id": f"shelf-{nth}-{n}", "deed": "received", "count": count, "lot": lot}
                expires_on = None if ends is None else (self.today + timedelta(days=ends)).isoformat()
                staff.call("POST", f"/api/clinic/stock/items/{item_id}/movements", move | {"expires_on": expires_on})
            if item.ordered:
                move = {"id": f"shelf-{nth}-o", "deed": "ordered", "count": item.ordered}
                staff.call("POST", f"/api/clinic/stock/items/{item_id}/movements", move)

    def expect(self, limb_id: str, limb: LimbStory) -> None:
        if limb.making:
            self.waiting.append((limb_id, limb, limb.making))

    def work(self, staff: Staff, day: date) -> None:
        """Make what is to be made by a day."""
        due = [one for one in self.waiting if self.today - timedelta(days=one[2].ago) <= day]
        if due and not self.shelf:
            self.fill(staff)
        for one in due:
            self.waiting.remove(one)
            self._make(staff, *one)

    def _make(self, staff: Staff, limb_id: str, limb: LimbStory, plan: MakingPlan) -> None:
        self.made += 1
        id_, on = f"demo-making-{self.made}", (self.today - timedelta(days=plan.ago)).isoformat()
        socket = limb.sockets[-1]
        begin = {"id": id_, "made": plan.made, "on": on, "purpose": plan.purpose, "suspension": socket["suspension"]}
        staff.call("POST", f"/api/clinic/limbs/{limb_id}/makings", begin)
        at = f"/api/clinic/makings/{id_}"
        for code, value, note in plan.found:
            said = {"id": f"{id_}-{code}", "step": code, "state": "done", "value": value, "note": note}
            staff.call("POST", f"{at}/steps", said)
        for item, count in plan.takes:
            taken = {"id": f"{id_}-{self.shelf[item]}", "item_id": self.shelf[item], "count": count}
            staff.call("POST", f"{at}/items", taken)
        for code, note in plan.ticked:
            staff.call("POST", f"{at}/steps", {"id": f"{id_}-{code}", "step": code, "state": "done", "note": note})
        if plan.finished:
            wear = [{"day": n, "hours": hours} for n, hours in enumerate((1, 2, 3, 4, 6, 8), 1)]
            facts = without(socket, "id", "suspensions", "made", "purpose", "suspension", "retired_on")
            facts |= {"wear_schedule": wear, "liner_size": "28", "lock_or_valve": "Pin lock"}
            done = {"id": f"{id_}-finish", "socket": facts, "bring": "The socks, the liner, the shoes worn most."}
            staff.call("POST", f"{at}/finish", done | {"open_seen": True})
