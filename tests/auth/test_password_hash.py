"""What a password costs whoever guesses, as shipped."""

from __future__ import annotations

import importlib.util

from argon2 import extract_parameters
from argon2.low_level import Type

from plytide.auth import password_hash


def test_a_password_is_kept_at_the_low_memory_cost_of_rfc_9106() -> None:
    # The module anew: in this process the tests may have lowered the cost of the one in use.
    assert password_hash.__spec__ is not None and password_hash.__spec__.loader is not None
    shipped = importlib.util.module_from_spec(password_hash.__spec__)
    password_hash.__spec__.loader.exec_module(shipped)
    for kept in (shipped.hash_password("four words of no sense"), shipped.NOBODY):
        cost = extract_parameters(kept)
        # RFC 9106, section 4, second recommended option: t = 3, p = 4, m = 2^16 KiB (64 MiB).
        assert (cost.type, cost.time_cost, cost.parallelism, cost.memory_cost) == (Type.ID, 3, 4, 65536)
