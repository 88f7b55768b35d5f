"""What is said to sign in."""

from __future__ import annotations

from plytide.wire.fields import Strict, Text


class SignInSchema(Strict):
    login = Text(most=120, required=True)
    password = Text(most=1024, required=True)
    code = Text(most=40, allow_none=True)
