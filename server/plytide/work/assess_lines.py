"""`plytide assess`: limb histories in, assessments out, a line each, in order. A bad line does not stop the rest."""

from __future__ import annotations

import multiprocessing
import os
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from datetime import date
from itertools import chain, islice
from typing import TextIO

import orjson

from plytide.engine.assess import assess_caseload
from plytide.model import LimbHistory
from plytide.wire.history import HistoryError, assessment_to_json, read_line

Line = str | bytes

BATCH = 256  # lines assessed together: enough for speed, little enough to answer soon
ALONE = 3  # up to so many batches, starting more processes costs more than it saves


def run(
    lines: Iterable[Line],
    out: TextIO,
    as_of: date | None = None,
    workers: int | None = None,
    scheduler: str | None = None,
) -> int:
    """Write one line per limb and date; 1 if any line was bad, else 0.

    A large file is spread over `workers` processes (as many as there are processors), or over the hosts of the Dask
    `scheduler` at an address; the order stays. Raises `elsewhere.NotThere` where no such scheduler answers.
    """
    bad = False
    if scheduler is None:
        found = _spread(_batches(lines), as_of, workers or os.cpu_count() or 1)
    else:
        from plytide.work import elsewhere

        found = elsewhere.in_order(answered, ((batch, as_of) for batch in _batches(lines)), scheduler)
    for text, faulty in found:
        bad = bad or faulty
        out.write(text)
        out.flush()
    return int(bad)


def _batches(lines: Iterable[Line]) -> Iterator[list[Line]]:
    waiting = (line for line in lines if line.strip())
    while batch := list(islice(waiting, BATCH)):
        yield batch


def _spread(batches: Iterator[list[Line]], as_of: date | None, workers: int) -> Iterator[tuple[str, bool]]:
    first = list(islice(batches, ALONE + 1))
    if workers < 2 or len(first) <= ALONE:
        for batch in chain(first, batches):
            yield answered(batch, as_of)
        return
    # Started afresh, not forked: numpy may hold threads. Few batches wait at a time, so a long file costs no memory.
    with ProcessPoolExecutor(workers, multiprocessing.get_context("spawn")) as pool:
        asked: deque[Future[tuple[str, bool]]] = deque()
        for batch in chain(first, batches):
            asked.append(pool.submit(answered, batch, as_of))
            if len(asked) > 2 * workers:
                yield asked.popleft().result()
        while asked:
            yield asked.popleft().result()


def answered(batch: Iterable[Line], as_of: date | None) -> tuple[str, bool]:
    """The answers to some lines as text, and whether any line was bad."""
    lines = list(answers(batch, as_of))
    return b"".join(one + b"\n" for one in lines).decode(), any(isinstance(one, Bad) for one in lines)


class Bad(bytes):
    """An answer that is an error line."""


def answers(batch: Iterable[Line], as_of: date | None) -> Iterator[bytes]:
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
    found = iter(assess_caseload([history for history, _ in good], [dates for _, dates in good], chart=False))
    for one in asked:
        if isinstance(one, HistoryError):
            fault = {"limb_id": one.limb_id, "error": {"field": one.field, "message": one.message}}
            yield Bad(orjson.dumps(fault))
        else:
            for assessment in next(found):
                yield orjson.dumps(assessment_to_json(assessment))


def last_day(history: LimbHistory) -> date:
    """The date of the last check-in; without any, of the last thing known."""
    return max(
        (checkin.date for checkin in history.checkins),
        default=max((socket.fitted_on for socket in history.sockets), default=date(2000, 1, 1)),
    )
