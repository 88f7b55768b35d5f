"""The pocket plan: what the clinic writes for a wearer to read on the phone, in its own words."""

from __future__ import annotations

from plytide.wire.fields import Changeable, Choice, Text
from plytide.wire.message import ROLES

MOST = 300  # characters of each part: a phone's screen holds no more beside its key


class PocketSchema(Changeable):
    loose = Text(most=MOST, least=0, allow_none=True)
    tight = Text(most=MOST, least=0, allow_none=True)
    wear = Text(most=MOST, least=0, allow_none=True)
    care = Text(most=MOST, least=0, allow_none=True)
    bring = Text(most=MOST, least=0, allow_none=True)
    to = Choice(ROLES, allow_none=True)
