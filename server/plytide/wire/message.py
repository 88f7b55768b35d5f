"""What the clinic writes to a person's phones, and what the phones answer."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from marshmallow import ValidationError, fields, validates, validates_schema

from plytide.wire.body import read
from plytide.wire.fields import Choice, Name, Several, Strict, Text

KINDS = ("read", "words", "question", "photo")
ROLES = ("wearer", "caregiver", "all")
PHOTO_ANSWERS = ("photo", "cannot")  # what a phone answers to being asked for one
MOST = 300  # characters of a message and of an answer
MOST_ANSWERS = 200  # of one call


class MessageSchema(Strict):
    kind = Choice(KINDS, required=True)
    text = Text(most=MOST, least=0, allow_none=True)
    choices = Several(Text(most=40), most=3)
    limb_id = Name(allow_none=True)
    to = Choice(ROLES)

    @validates_schema(skip_on_field_errors=True)
    def _whole(self, item: dict[str, Any], **kwargs: Any) -> None:
        kind, choices = item.get("kind"), [one.strip() for one in item.get("choices") or []]
        if kind in ("words", "question") and not (item.get("text") or "").strip():
            raise ValidationError("Write something first.", "text")
        if kind == "question" and len(choices) < 2:
            raise ValidationError("A question has two or three answers.", "choices")
        if kind not in (None, "question") and choices:
            raise ValidationError("Only a question has answers to choose from.", "choices")
        if len(set(choices)) < len(choices):
            raise ValidationError("The same answer stands here twice.", "choices")


class CopySchema(Strict):
    """A message as a phone has it: where the clinic has lost its own, after a restore."""

    kind = Choice(KINDS, required=True)
    text = Text(most=MOST, least=0, allow_none=True)
    choices = Several(Text(most=40), most=3, load_default=list)
    at = Text(most=40, required=True)
    by = Text(most=120, least=0, allow_none=True)


class AnswerSchema(Strict):
    id = Name(required=True)
    message_id = Name(required=True)
    person_id = Name(required=True)
    event = Choice(("seen", "answer"), required=True)
    choice = Text(most=40, allow_none=True)
    text = Text(most=MOST, least=0, allow_none=True)
    checkin_id = Name(allow_none=True)
    said_at = Text(most=40, required=True)
    message = fields.Nested(CopySchema, allow_none=True)

    @validates("said_at")
    def _an_instant(self, said_at: str, **kwargs: Any) -> None:
        try:
            datetime.fromisoformat(said_at)
        except ValueError:
            raise ValidationError("This must be an instant such as 2026-05-31T07:40:00Z.") from None

    @validates_schema(skip_on_field_errors=True)
    def _says_something(self, item: dict[str, Any], **kwargs: Any) -> None:
        if item.get("event") == "answer" and not item.get("choice") and not (item.get("text") or "").strip():
            raise ValidationError("Choose an answer, or write one.", "choice")


def answer_of(raw: Any) -> dict[str, Any]:
    """One answer from a phone. Raises Refused by field."""
    return read(AnswerSchema(), raw)
