"""A loopback TCP proxy that does to each call what a network can do to it."""

from __future__ import annotations

import asyncio
from collections import Counter
from random import Random

FAULTS = (
    ("pass", 0.70),
    ("delay", 0.08),
    ("drop", 0.04),  # the call never arrives
    ("cut in the call", 0.03),  # half of it arrives
    ("cut after the call", 0.05),  # it arrives whole, and nobody is there to hear the answer
    ("cut in the answer", 0.04),
    ("twice at once", 0.03),
    ("again later", 0.03),
)
PATIENCE = 20.0


class Gone(Exception):
    """The other side closed in the middle."""


async def message(reader: asyncio.StreamReader) -> bytes:
    """One HTTP message: head, and as much body as Content-Length says. Empty at the end of the stream."""
    try:
        head = await reader.readuntil(b"\r\n\r\n")
    except asyncio.IncompleteReadError as error:
        if error.partial:
            raise Gone from error
        return b""
    except (ConnectionError, asyncio.LimitOverrunError) as error:
        raise Gone from error
    length = 0
    for line in head.split(b"\r\n"):
        name, _, value = line.partition(b":")
        if name.strip().lower() == b"content-length":
            length = int(value)
    try:
        return head + await reader.readexactly(length)
    except (asyncio.IncompleteReadError, ConnectionError) as error:
        raise Gone from error


class Proxy:
    """Forwards one call a connection to `port`; `calm` stops all faults."""

    def __init__(self, port: int, random: Random) -> None:
        self.port, self.random, self.calm = port, random, False
        self.done: Counter[str] = Counter()
        self.later: set[asyncio.Task[None]] = set()

    async def start(self) -> int:
        self.server = await asyncio.start_server(self.serve, "127.0.0.1", 0, limit=4_000_000)
        return int(self.server.sockets[0].getsockname()[1])

    async def close(self) -> None:
        self.server.close()
        for task in self.later:
            task.cancel()
        await asyncio.gather(*self.later, return_exceptions=True)

    def fault(self) -> str:
        if self.calm:
            return "pass"
        names, weights = zip(*FAULTS, strict=True)
        return str(self.random.choices(names, weights)[0])

    async def upstream(self, call: bytes, *, hear: bool = True) -> bytes:
        """The server's answer to a call; empty when it is not there or dies."""
        try:
            reader, writer = await asyncio.open_connection("127.0.0.1", self.port, limit=4_000_000)
        except OSError:
            return b""
        try:
            writer.write(call)
            await writer.drain()
            if not hear:
                return b""
            return await asyncio.wait_for(message(reader), PATIENCE)
        except (OSError, Gone, TimeoutError):
            return b""
        finally:
            writer.close()

    async def again(self, call: bytes, seconds: float) -> None:
        await asyncio.sleep(seconds)
        await self.upstream(call)

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            call = await message(reader)
            answer = await self.carry(call) if call else b""
            if answer:
                writer.write(answer)
                await writer.drain()
        except (Gone, OSError):
            pass
        finally:
            writer.close()

    async def carry(self, call: bytes) -> bytes:
        fault = self.fault()
        self.done[fault] += 1
        if fault == "drop":
            return b""
        if fault == "delay":
            await asyncio.sleep(self.random.uniform(0, 0.2))
        if fault == "cut in the call":
            await self.upstream(call[: self.random.randrange(1, len(call))], hear=False)
            return b""
        if fault == "cut after the call":
            await self.upstream(call, hear=self.random.random() < 0.5)
            return b""
        if fault == "twice at once":
            answers = await asyncio.gather(self.upstream(call), self.upstream(call))
            return answers[self.random.randrange(2)]
        if fault == "again later":
            task = asyncio.create_task(self.again(call, self.random.uniform(0.05, 2.0)))
            self.later.add(task)
            task.add_done_callback(self.later.discard)
        answer = await self.upstream(call)
        if fault == "cut in the answer" and answer:
            return answer[: self.random.randrange(1, len(answer))]
        return answer
