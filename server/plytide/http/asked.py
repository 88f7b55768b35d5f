"""What is asked for behind the "?" or in a search's body, checked by name."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date

from flask import request

from plytide.auth.call import settings
from plytide.auth.denied import Denied
from plytide.http.route import checked_body
from plytide.wire.checkin import latest_date
from plytide.wire.fields import DATE, FIRST_YEAR, LAST_YEAR

Asked = Mapping[str, str]


def asked_choice(name: str, choices: tuple[str, ...], asked: Asked | None = None) -> str | None:
    value = (request.args if asked is None else asked).get(name)
    if value and value not in choices:
        raise Denied(422, "invalid", "This can't be read.", fields={name: [f"One of: {', '.join(choices)}."]})
    return value or None


def asked_day(name: str) -> date | None:
    """A date from the address, or None. Raises Denied 422."""
    value = request.args.get(name)
    if not value:
        return None
    try:
        day = date.fromisoformat(value)
        if not DATE.fullmatch(value) or not FIRST_YEAR <= day.year <= LAST_YEAR:
            raise ValueError
    except ValueError:
        words = "This must be a date such as 2026-05-31."
        raise Denied(422, "invalid", words, fields={name: [words]}) from None
    if name == "as_of" and day > latest_date(settings().now()):  # where the caller is it may be tomorrow already
        words = "This day has not come yet: nothing is known of it."
        raise Denied(422, "invalid", words, fields={name: [words]})
    return day


def asked_limit(asked: Asked | None = None) -> int:
    value = (request.args if asked is None else asked).get("limit", "50")
    if not re.fullmatch(r"[1-9][0-9]{0,2}", value) or int(value) > 200:
        words = "This must be a whole number from 1 to 200."
        raise Denied(422, "invalid", words, fields={"limit": [words]})
    return int(value)


def asked_in_body() -> Asked:
    """What a search asks for, in the body: a name that is searched for never stands in an address, nor in a log."""
    return {name: str(value) for name, value in checked_body().items() if value is not None}
