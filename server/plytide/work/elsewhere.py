"""Work handed to other machines: a Dask scheduler somebody else runs, an extra of the package (`plytide[hosts]`).

What is handed over is a function of the package and its arguments; the workers need the same Plytide installed. A task
whose worker is gone is given to another by the scheduler, and its answer is the same, since nothing is kept on the way.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Callable, Coroutine, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import islice
from typing import Any, TypeVar

Answer = TypeVar("Answer")

ANSWERS_WITHIN = 20  # seconds; judgement
AHEAD = 2  # tasks that wait for each thread of the workers: few, so that a long file costs no memory


class NotThere(Exception):
    """No scheduler, no worker, or not the same Plytide there; the message says which and what to do."""


def in_order(work: Callable[..., Answer], tasks: Iterable[tuple[Any, ...]], scheduler: str) -> Iterator[Answer]:
    """What `work` answers to each of the tasks, in their order."""
    try:
        from distributed import Client, rpc
    except ImportError:
        raise NotThere("the package distributed is not installed: install plytide[hosts].") from None
    logging.getLogger("distributed").setLevel(logging.ERROR)  # a worker that comes and goes is no news to the caller
    try:  # who it is, first: a client would wait for ever for one who takes the call and says nothing
        _in_a_thread(lambda: asyncio.wait_for(_who(rpc, scheduler), ANSWERS_WITHIN))
        make: Callable[..., Any] = Client
        client = make(scheduler, timeout=ANSWERS_WITHIN, set_as_default=False)
    except (OSError, ValueError, TypeError, TimeoutError) as error:
        raise NotThere(f"no scheduler answers at {scheduler} ({type(error).__name__}).") from error
    with client:
        try:
            client.wait_for_workers(1, timeout=ANSWERS_WITHIN)
        except TimeoutError:
            raise NotThere(f"the scheduler at {scheduler} has no workers yet: start one with dask worker.") from None
        threads = sum(worker["nthreads"] for worker in client.scheduler_info(n_workers=-1)["workers"].values())
        waiting = iter(tasks)
        asked = deque(_ask(client, work, task) for task in islice(waiting, AHEAD * max(threads, 1)))
        for task in waiting:
            yield _answer(asked.popleft())
            asked.append(_ask(client, work, task))
        while asked:
            yield _answer(asked.popleft())


def _in_a_thread(made: Callable[[], Coroutine[Any, Any, None]]) -> None:
    """To its end, whether or not the caller's own thread has a loop that runs."""
    with ThreadPoolExecutor(1) as thread:
        thread.submit(lambda: asyncio.run(made())).result()


async def _who(rpc: Any, address: str) -> None:
    async with rpc(address) as there:
        await there.identity()


def _ask(client: Any, work: Callable[..., Any], task: tuple[Any, ...]) -> Any:
    return client.submit(work, *task, pure=False)


def _answer(future: Any) -> Any:
    try:
        return future.result()
    except ModuleNotFoundError as error:
        raise NotThere(f"a worker lacks {error.name}: install the same Plytide there.") from error
