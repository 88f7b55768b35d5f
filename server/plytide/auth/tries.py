"""Wrong tries slow the next ones down: by name and by address.

A try is counted before it is judged, together with the look at whether it may be made: of many at once only those are
judged that one after the other would have been. What turns out right is taken back.
"""

from __future__ import annotations

from plytide.auth.call import from_where, registry, settings
from plytide.auth.denied import Denied

SIGN_IN_TRIES = 5
ADDRESS_TRIES = 50

Tries = list[tuple[str, str, int]]  # (what, who, free tries)


def claim(tries: Tries) -> None:
    """Count one more try of each. Raises Denied 429, and counts none, while any of them must wait."""
    wait = registry().claim(tries, settings().now())
    if wait:
        raise Denied(429, "too-many-tries", f"Too many tries. Wait {wait} seconds.", retry_after=wait)


def took_back(tries: Tries) -> None:
    """The try just counted was no wrong one."""
    registry().take_back(tries, settings().now())


def tries_of(login: str) -> Tries:
    """What a sign-in with this name is counted by."""
    address = from_where()
    return [("sign-in", login.lower()[:120], SIGN_IN_TRIES), ("sign-in-from", address, ADDRESS_TRIES)]
