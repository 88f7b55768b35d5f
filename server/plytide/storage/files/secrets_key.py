"""Secrets that must be read back, sealed with a key file beside the data.

The key is not part of a backup: a stolen backup opens none of them. Keep `secret.key` apart from the backups.
"""

from __future__ import annotations

import os
from pathlib import Path

from cryptography.fernet import Fernet, InvalidToken

KEY_FILE = "secret.key"


class NoKey(Exception):
    """store: sealed with a key that is not here; the file `secret.key` was lost or replaced."""


def _key(data_dir: Path) -> bytes:
    """The server's key; made at first use, readable by its owner only."""
    path = data_dir / KEY_FILE
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_bytes().strip()
    with os.fdopen(handle, "wb") as file:
        key = Fernet.generate_key()
        file.write(key)
        file.flush()
        os.fsync(file.fileno())
    return key


def seal(data_dir: Path, secret: bytes) -> bytes:
    return Fernet(_key(data_dir)).encrypt(secret)


def unseal(data_dir: Path, sealed: bytes) -> bytes:
    """Raises NoKey when it was sealed with another key."""
    try:
        return Fernet(_key(data_dir)).decrypt(sealed)
    except (InvalidToken, ValueError) as error:
        raise NoKey(KEY_FILE) from error
