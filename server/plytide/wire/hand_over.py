"""A colleague who takes over."""

from __future__ import annotations

from plytide.wire.fields import Name, Strict


class HandOverSchema(Strict):
    to = Name(required=True)
