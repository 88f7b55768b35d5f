"""A real mail server for the tests: it listens, keeps what arrives, and can be down."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes
from email.message import Message
from email.policy import default
from typing import Any

from aiosmtpd.controller import Controller

from tests.actors import free_port


class Inbox:
    """Keeps what arrives; refuses everything while `down`; ends the call at one address."""

    def __init__(self) -> None:
        self.mail: list[Message] = []
        self.down = False
        self.hangs_up_at = ""

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        if self.down:
            return "451 try again later"
        if self.hangs_up_at in envelope.rcpt_tos:
            return "421 no more"
        self.mail.append(message_from_bytes(envelope.content, policy=default))
        return "250 kept"


@contextmanager
def listening() -> Iterator[tuple[Inbox, str]]:
    """(what arrives, the server's address)."""
    inbox, port = Inbox(), free_port()
    listener = Controller(inbox, hostname="127.0.0.1", port=port)
    listener.start()
    try:
        yield inbox, f"smtp://127.0.0.1:{port}"
    finally:
        listener.stop()
