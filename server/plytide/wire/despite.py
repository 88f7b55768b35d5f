"""Why staff go on with a socket where something stands against it."""

from __future__ import annotations

from marshmallow import fields, validate

from plytide.wire.fields import Strict, Text


class DespiteSchema(Strict):
    reason = Text(most=400, least=3, required=True)
    # The matters the reason was written to, word by word; what stands against it beside them is asked about.
    of = fields.List(Text(most=2000), validate=validate.Length(max=100))
