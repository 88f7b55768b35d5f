"""Ids that sort by when they were made (UUID version 7, RFC 9562 section 5.7), and secrets."""

from __future__ import annotations

import hashlib
import secrets
import time
import uuid
from datetime import UTC, datetime

# No 0/O, 1/I/L, 5/S, 2/Z, 8/B, U/V: a code is read aloud and typed by tired people.
CODE_LETTERS = "ACDEFGHJKMNPQRTWXY34679"
CODE_LENGTH = 12  # 54 bits


def new_id() -> str:
    value = (time.time_ns() // 1_000_000) << 80 | secrets.randbits(80)
    value = value & ~(0xF << 76) | 0x7 << 76
    value = value & ~(0x3 << 62) | 0x2 << 62
    return str(uuid.UUID(int=value))


def made_at(id_: str) -> datetime | None:
    """When an id of ours was made; None for what is none."""
    try:
        value = uuid.UUID(id_)
    except ValueError:
        return None
    return datetime.fromtimestamp((value.int >> 80) / 1000, UTC) if value.version == 7 else None


def new_secret() -> str:
    """256 random bits, safe in a header and a cookie."""
    return secrets.token_urlsafe(32)


def new_code() -> str:
    """A one-time code in groups of four, such as ACDE-FGHJ-KMNP."""
    letters = "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))
    return "-".join(letters[i : i + 4] for i in range(0, CODE_LENGTH, 4))


def digest(secret: str) -> bytes:
    """What is kept of a secret: its SHA-256. Enough for random secrets; passwords go through argon2."""
    return hashlib.sha256(secret.encode()).digest()


def code_digest(code: str) -> bytes:
    """As `digest`, after forgiving case, spaces and dashes."""
    return digest("".join(letter for letter in code.upper() if letter.isalnum()))
