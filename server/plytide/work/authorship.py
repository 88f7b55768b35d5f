"""Who wrote a check-in, proved by the server to itself: a phone that offers another's after a restore brings the proof.

A phone's own word is not enough: a caregiver could sign as the wearer.
"""

from __future__ import annotations

import hmac
from base64 import urlsafe_b64encode


def proof(key: bytes, id_: str, limb_id: str, body: str, writer: str) -> str:
    """The proof that goes out with a kept check-in: short, of this very text and writer, made with the clinic's key."""
    content = b"".join(len(part).to_bytes(4, "big") + part for part in map(str.encode, (id_, limb_id, writer, body)))
    return urlsafe_b64encode(hmac.digest(key, content, "sha256")[:18]).decode()


def holds(key: bytes, id_: str, limb_id: str, body: str, writer: str, given: str | None) -> bool:
    made = proof(key, id_, limb_id, body, writer)
    return given is not None and hmac.compare_digest(made.encode(), given.encode())


def seal(key: bytes, cursor: str) -> str:
    """That a cursor was given by this server: a phone could make one up that says the file is another."""
    return hmac.digest(key, b"cursor " + cursor.encode(), "sha256")[:8].hex()


def sealed(key: bytes, cursor: str, given: str) -> bool:
    return hmac.compare_digest(seal(key, cursor).encode(), given.encode())
