"""Passwords as they are kept: Argon2id."""

from __future__ import annotations

from typing import Any

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

passwords = PasswordHasher()  # Argon2id with the library's own parameters (RFC 9106, low-memory profile)
# Of random bytes that were thrown away, at the cost above. Written down: to make one at each start takes a while.
NOBODY = "$argon2id$v=19$m=65536,t=3,p=4$3X8Bi5qD9RmI92Xy0+5BjQ$GHwbf88mWzRuEabCoVEBZvmhgCXu2eN4pgzhLRYmkic"


def hash_password(password: str) -> str:
    return passwords.hash(password)


def password_holds(row: dict[str, Any] | None, password: str) -> bool:
    """The same work for a name nobody has."""
    try:
        passwords.verify(row["password_hash"] if row else NOBODY, password)
        return row is not None
    except (VerificationError, InvalidHashError):
        return False
