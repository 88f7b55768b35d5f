"""Key files, and a backup's files under a key: AES-256-GCM in pieces, so that a file of any size needs little memory.

A piece out of place, changed or missing at the end is found: each is sealed with its number and whether it is
the last (the STREAM construction, Hoang and others 2015). The key is 32 random bytes, in a file as 64 hex digits.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

MARK = b"plytide-sealed-1"
PIECE = 1 << 20
PREFIX, TAG = 7, 16


class KeyFault(Exception):
    """store: a key file that is none, or a file that this key does not open; the message says which."""


def new_key(path: Path) -> None:
    """Write a new key, readable by its owner only. Raises KeyFault rather than replace one."""
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError as error:
        raise KeyFault(f"{path} is there already. A key that is replaced opens nothing it opened before.") from error
    except OSError as error:
        raise KeyFault(f"{path} can't be written: {error.strerror}.") from error
    with os.fdopen(handle, "w") as file:
        file.write(secrets.token_hex(32) + "\n")
        file.flush()
        os.fsync(file.fileno())


def is_private(path: Path) -> bool:
    """Whether nobody but its owner may read a file. One of root's may have a group: systemd gives credentials so."""
    status = path.stat()
    return status.st_mode & (0o037 if status.st_uid == 0 else 0o077) == 0


def read_key(path: Path) -> bytes:
    """Raises KeyFault."""
    try:
        key = bytes.fromhex(path.read_text().strip())
    except OSError as error:
        raise KeyFault(f"The key file {path} can't be read: {error.strerror}.") from error
    except ValueError as error:
        raise KeyFault(f"{path} is not a key file: it must hold 64 hex digits.") from error
    if len(key) != 32:
        raise KeyFault(f"{path} is not a key file: it must hold 64 hex digits.")
    return key


def _nonce(prefix: bytes, number: int, last: bool) -> bytes:
    return prefix + number.to_bytes(4, "big") + bytes([last])


def _pieces(file: BinaryIO, size: int) -> Iterator[tuple[bytes, bool]]:
    """(piece, whether it is the last); an empty file has one empty piece."""
    piece = file.read(size)
    while True:
        following = file.read(size)
        yield piece, not following
        if not following:
            return
        piece = following


def seal(source: Path, target: Path, key: bytes) -> None:
    cipher, prefix = AESGCM(key), secrets.token_bytes(PREFIX)
    with source.open("rb") as plain, target.open("wb") as sealed:
        sealed.write(MARK + prefix)
        for number, (piece, last) in enumerate(_pieces(plain, PIECE)):
            sealed.write(cipher.encrypt(_nonce(prefix, number, last), piece, MARK))


def is_sealed(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(len(MARK)) == MARK


def unseal(source: Path, target: Path, key: bytes) -> None:
    """Raises KeyFault for another key, and for a file that was changed or cut; `target` is then removed."""
    cipher = AESGCM(key)
    try:
        with source.open("rb") as sealed, target.open("wb") as plain:
            if sealed.read(len(MARK)) != MARK:
                raise KeyFault(f"{source.name} is not sealed.")
            prefix = sealed.read(PREFIX)
            for number, (piece, last) in enumerate(_pieces(sealed, PIECE + TAG)):
                plain.write(cipher.decrypt(_nonce(prefix, number, last), piece, MARK))
    except (InvalidTag, ValueError) as error:
        target.unlink(missing_ok=True)
        raise KeyFault(f"{source.name} can't be opened: another key, or not as it was written.") from error
