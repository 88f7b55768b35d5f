"""What a rule says to somebody who asked for what can't be: plain exceptions, which http turns into answers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

SOME_FIELDS = "Some fields are not right."


class Refusal(ValueError):
    """`field` is what stands in the way, `words` say why; `message` is the whole answer in a sentence."""

    def __init__(self, field: str, words: str, message: str = SOME_FIELDS) -> None:
        super().__init__(f"{field}: {words}")
        self.field, self.words, self.message = field, words, message


class Missing(LookupError):
    """There is nothing with this id in the clinic."""


class StandsAgainst(ValueError):
    """Something stands against what was entered, and nobody said yet why they go on."""

    code, field = "stands-against", "despite"
    message = "This stands against it. Say why you go on, or change what was entered."

    def __init__(self, against: list[dict[str, str]]) -> None:
        super().__init__(self.message)
        self.against = against


def go_on(against: list[dict[str, str]], despite: Mapping[str, Any] | None) -> str | None:
    """Why somebody goes on, as given. Raises StandsAgainst where something stands there that it was not said of."""
    of = despite.get("of") if despite else None
    if against and (despite is None or (of is not None and any(one["text"] not in of for one in against))):
        raise StandsAgainst(against)
    return str(despite["reason"]).strip() if despite else None


class Taken(StandsAgainst):
    """Other visits, or a closed door, stand in a visit's way."""

    code, field = "taken", "anyway"
    message = "Something stands in the way. Choose another time, or book it all the same."
