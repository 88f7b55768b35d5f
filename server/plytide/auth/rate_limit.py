"""How often one caller may call: a request → nothing, or Denied 429 with the seconds to wait.

Counted in each worker's own memory by the minute, so two workers let through twice as much at most. Calls from the
machine itself are not counted: behind a proxy the caller's address is the one it names (PLYTIDE_PROXIES).
"""

from __future__ import annotations

import time
from collections.abc import Callable
from hashlib import blake2b
from ipaddress import ip_address
from typing import Literal

from flask import Flask, request
from limits import RateLimitItem, RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import FixedWindowRateLimiter

from plytide.auth.call import from_where, settings
from plytide.auth.denied import Denied

# Judgement. A phone home after weeks sends 500 entries a call; a clinic's people share one address.
HEAVY_SHARE = 5  # of a caller's calls, one in so many may be a heavy one
ADDRESS_TIMES = 10  # callers' worth of calls from one address

#: What a call costs: nothing (whether the server lives may be asked at any time), a file of the app, any call, a heavy
#: one.
Cost = Literal["free", "file", "light", "heavy"]


def keep(app: Flask, cost_here: Callable[[], Cost]) -> None:
    """Ask before every call of `app`; `cost_here` says what the call at hand costs."""
    limiter = FixedWindowRateLimiter(MemoryStorage())
    each = app.config["SETTINGS"].calls_a_minute
    if not each:
        return
    of_caller, of_address = RateLimitItemPerMinute(each), RateLimitItemPerMinute(each * ADDRESS_TIMES)
    of_heavy = RateLimitItemPerMinute(max(each // HEAVY_SHARE, 1))

    def ask() -> None:
        address = request.remote_addr or ""
        cost = cost_here()
        if cost == "free" or is_here(address):
            return
        where = from_where()
        whose_call = caller()
        asked: list[tuple[RateLimitItem, str, str]] = [
            (of_address, "address", where),
            (of_caller, "caller", whose_call),
        ]
        if cost == "heavy":
            asked.append((of_heavy, "heavy", whose_call))
        if cost == "file":
            # A phone fetches over a hundred files at first, without saying who it is: nobody beside it may wait for
            # that.
            asked = [(of_address, "files", where)]
        for item, what, whose in asked:
            if not limiter.hit(item, what, whose):
                wait = max(round(limiter.get_window_stats(item, what, whose).reset_time - time.time()), 1)
                raise Denied(
                    429, "too-many-calls", f"Too many calls in a minute. Wait {wait} seconds.", retry_after=wait
                )

    app.before_request(ask)


def caller() -> str:
    """The phone or the session, as a hash, else the address: made-up ones are stopped by their address."""
    credential = request.headers.get("Authorization") or request.cookies.get(settings().session_cookie)
    return blake2b(credential.encode(), digest_size=16).hexdigest() if credential else from_where()


def is_here(address: str) -> bool:
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False
