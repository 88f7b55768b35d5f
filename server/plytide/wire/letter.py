"""A letter and its template, as staff write them: plain text with the names of fields in braces."""

from __future__ import annotations

import re
from typing import Any

from marshmallow import ValidationError, validates_schema

from plytide.wire.fields import Choice, Flag, Name, Strict, Text

KINDS = {
    "physician": "To the physician",
    "heart_team": "To the heart team",
    "kidney_team": "To the kidney team",
    "payer": "To the payer",
    "clinic": "To another clinic",
    "handover": "Hand-over to a colleague",
}
MOST_LETTERS = 8000  # of one letter: some three sheets
#: What a template can ask for. Each comes with its dates.
FIELDS = {
    "greeting": "Dear …, by the physician entered",
    "person": "the person’s name",
    "today": "the letter’s date",
    "clinic": "the clinic’s name",
    "by": "who writes",
    "limb": "side, level, amputation date",
    "socket": "the socket worn, and when it was fitted",
    "tape": "the newest tape measurement, level by level",
    "tape_before": "the one before it",
    "tape_change": "the difference of these two",
    "ply": "the sock stack worn last",
    "ply_at_fitting": "the sock stack at the fitting",
    "comfort": "comfort, mean of 14 days",
    "hours": "hours worn a day, mean of 14 days",
    "falls": "falls in 30 days",
    "skin": "skin findings in six weeks",
    "weight": "the newest weight",
    "weight_before": "the newest weight at least a week before it",
    "weight_limit": "the weight limit of the socket",
    "limits": "the clinic’s limits for signals",
    "volume": "change of volume since the fitting, with its range",
    "volume_28d": "change of volume in 28 days, with its range",
    "dialysis_swing": "how much larger before dialysis than after",
    "state": "how the limb stands, as a signal",
    "signals": "what stands on the list",
    "making": "how the last sockets were made, by the clinic’s record",
    "decision": "the newest decisions on a recast",
    "next_visit": "the next visit booked",
    "calls": "the last three calls",
    "outcomes": "outcome measures: comfort at the clinic, timed walk, two-minute walk, up-and-go",
    "other_limb": "the other limb: tape, socks, comfort, hours",
}
IN_BRACES = re.compile(r"\{\s*([^{}\n]{0,60}?)\s*\}")


class TemplateSchema(Strict):
    text = Text(most=MOST_LETTERS, required=True, allow_none=True)
    was = Text(most=MOST_LETTERS, allow_none=True)  # what the form showed when it was opened

    @validates_schema(skip_on_field_errors=True)
    def _known_fields(self, item: dict[str, Any], **kwargs: Any) -> None:
        strange = next((name for name in IN_BRACES.findall(item.get("text") or "") if name not in FIELDS), None)
        if strange is not None:
            raise ValidationError(f"There is no field “{strange}”. Take one from the list, with its braces.", "text")


class LetterSchema(Strict):
    id = Name(required=True)  # made by the page, so that a second press keeps no second letter
    kind = Choice(tuple(KINDS), required=True)
    to = Text(most=400, least=0, allow_none=True)
    subject = Text(most=160, required=True)
    text = Text(most=MOST_LETTERS, required=True)
    replaces = Name(allow_none=True)
    undated_seen = Flag()  # whoever writes was told of figures without a date, and keeps them

    @validates_schema(skip_on_field_errors=True)
    def _all_filled(self, item: dict[str, Any], **kwargs: Any) -> None:
        for field in ("subject", "text"):
            left = next((name for name in IN_BRACES.findall(item.get(field, "")) if name in FIELDS), None)
            if left is not None:
                raise ValidationError(f"“{{{left}}}” is not filled in. Write what is meant, or take it out.", field)
