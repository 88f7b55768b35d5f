"""What staff send about themselves: passwords, second factors, sessions."""

from __future__ import annotations

from typing import Any

from marshmallow import fields

from plytide.wire.fields import Choice, Mail, Name, Strict, Text

SHORTEST_PASSWORD = 12  # characters; pages and the command are told it
ROLES = ("prosthetist", "assistant", "manager")
OBJECT: dict[str, Any] = {
    "required": "This is needed.",
    "null": "This can't be empty.",
    "invalid": "This must be an object.",
}


class PasswordSchema(Strict):
    password = Text(most=1024, required=True)


class NewPasswordSchema(PasswordSchema):
    new_password = Text(most=1024, least=SHORTEST_PASSWORD, required=True)


class PasswordFromCodeSchema(Strict):
    code = Text(most=100, required=True)
    new_password = Text(most=1024, least=SHORTEST_PASSWORD, required=True)


class PasswordMailSchema(Strict):
    login = Text(most=120, required=True)


class MailSchema(PasswordSchema):
    mail = Mail(required=True, allow_none=True)  # null: none any longer


class CodeSchema(Strict):
    code = Text(most=40, required=True)


class PasskeySchema(Strict):
    challenge_id = Text(most=100, required=True)
    credential = fields.Dict(required=True, error_messages=OBJECT)
    label = Text(most=60, load_default="Passkey")


class PasskeySignInSchema(Strict):
    challenge_id = Text(most=100, required=True)
    credential = fields.Dict(required=True, error_messages=OBJECT)


class StaffSchema(Strict):
    login = Name(required=True)
    name = Text(most=120, required=True)
    role = Choice(ROLES, required=True)
    password = Text(most=1024, least=SHORTEST_PASSWORD)  # left out: a link to choose one is given instead
    mail = Mail(allow_none=True)
