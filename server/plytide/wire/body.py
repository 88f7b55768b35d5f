"""A body against the schema its route names, with every fault by field."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError

from plytide.wire.checkin import Refused
from plytide.wire.fields import Strict, by_field


def read(schema: Strict, raw: Any, *, partial: bool = False) -> dict[str, Any]:
    """A checked object; a `partial` one may leave its own fields out, not those of what it holds.

    Raises Refused with every fault by field.
    """
    try:
        item: dict[str, Any] = schema.load(raw, partial=tuple(schema.fields) if partial else False)
    except ValidationError as error:
        raise Refused(by_field(error.messages)) from error
    return item
