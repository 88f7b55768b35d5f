"""A person, and how people are looked for."""

from __future__ import annotations

from marshmallow import fields

from plytide import model
from plytide.wire.fields import Changeable, Choice, Day, Flag, Name, Several, Strict, Telephone, Text, Whole


class TelephoneSchema(Strict):
    number = Telephone(required=True)
    whose = Text(most=60, allow_none=True)
    best = Text(most=60, allow_none=True)  # when somebody answers it


class PersonSchema(Changeable):
    name = Text(most=120, required=True)
    born_on = Day(allow_none=True)
    tags = Several(Choice(model.LIMB_TAGS), most=len(model.LIMB_TAGS), load_default=list)
    clinician_id = Name(allow_none=True)
    own_log = Flag()  # writes for themselves: caregivers' phones then see less
    heart_team_phone = Telephone(allow_none=True)
    kidney_team_phone = Telephone(allow_none=True)
    # How the clinic reaches them, and who else is at it.
    telephones = Several(fields.Nested(TelephoneSchema), most=6)
    ask_for = Text(most=120, allow_none=True)
    language = Text(most=40, allow_none=True)
    record_number = Text(most=40, allow_none=True)
    referrer = Text(most=200, allow_none=True)
    physician = Text(most=120, allow_none=True)
    physician_phone = Telephone(allow_none=True)


class PeopleSearchSchema(Strict):
    q = Text(most=120, least=0)
    next = Text(most=400)
    limit = Whole(1, 200)
