"""A time zone by its IANA name."""

from __future__ import annotations

from zoneinfo import ZoneInfo, ZoneInfoNotFoundError


def zone_named(text: str | None) -> ZoneInfo | None:
    """None for none, and for one this server does not know: older versions kept any."""
    try:
        return ZoneInfo(text) if text else None
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None
