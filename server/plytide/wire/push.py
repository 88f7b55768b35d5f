"""Where a phone takes reminders, and when."""

from __future__ import annotations

from marshmallow import fields

from plytide.wire.fields import Clock, Number, PushKey, Several, Strict, Text, Whole, Zone


class PushKeysSchema(Strict):
    p256dh = PushKey(65, 4, required=True)  # an uncompressed point (RFC 8291)
    auth = PushKey(16, required=True)


class SubscriptionSchema(Strict):
    endpoint = Text(most=1000, required=True)
    keys = fields.Nested(PushKeysSchema, required=True)
    expirationTime = Number(0, 1e15, allow_none=True)


class PushSchema(Strict):
    subscription = fields.Nested(SubscriptionSchema, required=True)
    at = Several(Clock(), most=6, least=1, required=True)
    zone = Zone(required=True)
    quiet_from = Clock(allow_none=True)
    quiet_to = Clock(allow_none=True)
    language = Text(most=35, load_default="en")  # a code of the phone's word files, which the route looks up


class PauseSchema(Strict):
    hours = Whole(0, 24 * 14, required=True)
