"""`plytide assess`: limb histories in, assessments out, a line each, in order. A bad line does not stop the rest."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from itertools import islice
from typing import TextIO

import orjson

from plytide.model import LimbHistory
from plytide.review import assess_caseload
from plytide.wire.history import HistoryError, assessment_to_json, read_line

BATCH = 256  # lines assessed together: enough for speed, little enough to answer soon


def run(lines: Iterable[str], out: TextIO, as_of: date | None = None) -> int:
    """Write one line per limb and date; 1 if any line was bad, else 0."""
    bad = False
    waiting = (line for line in lines if line.strip())
    while batch := list(islice(waiting, BATCH)):
        for answer in answers(batch, as_of):
            bad = bad or isinstance(answer, Bad)
            out.write(answer.decode() + "\n")
        out.flush()
    return int(bad)


class Bad(bytes):
    """An answer that is an error line."""


def answers(batch: Iterable[str], as_of: date | None) -> Iterator[bytes]:
    """The answers to some lines, in order."""
    asked: list[tuple[LimbHistory, list[date]] | HistoryError] = []
    for line in batch:
        try:
            history, dates = read_line(line)
        except HistoryError as error:
            asked.append(error)
            continue
        asked.append((history, [as_of] if as_of else dates or [last_day(history)]))
    good = [one for one in asked if not isinstance(one, HistoryError)]
    found = iter(assess_caseload([history for history, _ in good], [dates for _, dates in good]))
    for one in asked:
        if isinstance(one, HistoryError):
            said = {"limb_id": one.limb_id, "error": {"field": one.field, "message": one.message}}
            yield Bad(orjson.dumps(said))
        else:
            for assessment in next(found):
                yield orjson.dumps(assessment_to_json(assessment))


def last_day(history: LimbHistory) -> date:
    """The date of the last check-in; without any, of the last thing known."""
    return max(
        (checkin.date for checkin in history.checkins),
        default=max((socket.fitted_on for socket in history.sockets), default=date(2000, 1, 1)),
    )
