"""The file a phone makes of what it could not send: JSON → checked envelope. The check-ins stay as they are."""

from __future__ import annotations

from typing import Any

from marshmallow import fields

from plytide.wire.fields import Several, Strict, Text, Whole

MOST = 5000


class PhoneFileSchema(Strict):
    plytide_export = Whole(1, 1, required=True)
    made_at = Text(most=40, allow_none=True)
    checkins = Several(fields.Raw(allow_none=True), most=MOST, required=True)


def by_writer(checkins: list[Any]) -> dict[str, list[Any]]:
    """The check-ins by the phone that wrote them, in the order they stand; "" for those that don't say."""
    groups: dict[str, list[Any]] = {}
    for item in checkins:
        writer = item.get("written_by") if isinstance(item, dict) else None
        groups.setdefault(writer if isinstance(writer, str) else "", []).append(item)
    return groups
