"""A limb history: one line of JSON ↔ nouns, and an assessment out. What `plytide assess` speaks."""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterable
from datetime import date
from typing import Any

import orjson
from marshmallow import ValidationError, fields

from plytide import model
from plytide.wire import checkin as wire
from plytide.wire.fields import Choice, Day, Flag, Name, Number, Several, Strict, Text, by_field
from plytide.wire.limb import noun as limb_noun
from plytide.wire.measurement import TapeLevelSchema
from plytide.wire.measurement import noun as measurement_noun
from plytide.wire.pad import PadSchema
from plytide.wire.pad import noun as pad_noun
from plytide.wire.socket import SocketSchema
from plytide.wire.socket import noun as socket_noun

MOST_A_DAY = 50  # judgement: nobody changes socks more often; more is a fault of the file
MOST_CHECKINS = 50_000


class HistoryError(Exception):
    """wire: a line that can't be assessed; `field` names where, `message` says why."""

    def __init__(self, limb_id: str | None, field: str, message: str) -> None:
        super().__init__(f"{field}: {message}")
        # Names come from the line itself and may hold halves of characters, which can't be written out again.
        self.limb_id = _writable(limb_id) if limb_id is not None else None
        self.field, self.message = _writable(field), message


def _writable(text: str) -> str:
    return text.encode("utf-8", "replace").decode()[:200]


class LimbPart(Strict):
    id = Text(most=64, required=True)
    side = Choice(model.SIDES)
    level = Choice(model.LEVELS)
    amputated_on = Day(allow_none=True)
    reference_circumference_mm = Number(60, 1200, "mm", allow_none=True)
    shape = Choice(model.SHAPES, allow_none=True)
    born_on = Day(allow_none=True)
    tags = Several(Text(most=40), most=40, allow_none=True)
    deep_scar = Flag(allow_none=True)


class DecisionPart(Strict):
    on = Day(required=True)
    choice = Choice(model.CHOICES, required=True)
    planned_on = Day(allow_none=True)


class SocketPart(SocketSchema):
    id = Text(most=64, required=True)

    class Meta(SocketSchema.Meta):
        exclude = ("despite",)


class PadPart(PadSchema):
    id = Text(most=64)
    socket_id = Text(most=64, required=True)


class MeasurementPart(Strict):
    id = Text(most=64)
    on = Day(required=True)
    levels = Several(fields.Nested(TapeLevelSchema), most=20, required=True)
    minutes_since_doffing = Number(0, 1440, "minutes", allow_none=True)
    weight_kg = Number(2, 400, "kg", allow_none=True)
    measured_by = Text(most=120, allow_none=True)


class Listed(fields.Field[list[Any]]):
    """A list of at most `most` values that are looked at later."""

    def __init__(self, most: int, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.most = most

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> list[Any]:
        if not isinstance(value, list):
            raise ValidationError("This must be a list.")
        if len(value) > self.most:
            raise ValidationError(f"This can hold at most {self.most}.")
        return value


class HistoryPart(Strict):
    limb = fields.Nested(LimbPart, required=True)
    sockets = Several(fields.Nested(SocketPart), most=100, load_default=list)
    pads = Several(fields.Nested(PadPart), most=500, load_default=list)
    measurements = Several(fields.Nested(MeasurementPart), most=1000, load_default=list)
    checkins = Listed(most=MOST_CHECKINS, load_default=list)
    clinic_looks = Several(Day(), most=10_000, allow_none=True)
    decisions = Several(fields.Nested(DecisionPart), most=200, load_default=list)
    as_of = fields.Raw(allow_none=True)


_schema = HistoryPart()
_name = Name()


def read_line(line: str | bytes) -> tuple[model.LimbHistory, list[date] | None]:
    """(history, the dates it asks for or None) of one line. Raises HistoryError with the first fault."""
    try:
        raw = orjson.loads(line)
    except orjson.JSONDecodeError:
        raw = _loosely(line)
    return read(raw)


def _loosely(line: str | bytes) -> Any:
    """A line as a less strict writer makes it: NaN, Infinity, huge numbers, a byte order mark.

    So that the fault found is the field that holds them. Raises HistoryError for what is not JSON at all.
    """
    try:
        text = line.decode("utf-8") if isinstance(line, bytes) else line
        return json.loads(text.removeprefix("\ufeff"), parse_int=lambda digits: int(digits[:20]))
    except (ValueError, RecursionError):
        raise HistoryError(None, "line", "This line is not JSON.") from None


def read(raw: Any) -> tuple[model.LimbHistory, list[date] | None]:
    """As `read_line`, from JSON already read."""
    limb = raw.get("limb") if isinstance(raw, dict) else None
    limb_id = limb.get("id") if isinstance(limb, dict) else None
    limb_id = limb_id if isinstance(limb_id, str) else None
    try:
        item: dict[str, Any] = _schema.load(raw)
    except ValidationError as error:
        field, messages = next(iter(by_field(error.messages).items()))
        raise HistoryError(limb_id, field, messages[0]) from error
    try:
        return _history(item), _dates(item.get("as_of"))
    except _Fault as fault:
        raise HistoryError(limb_id, fault.field, fault.message) from fault


class _Fault(Exception):
    def __init__(self, field: str, message: str) -> None:
        super().__init__(field)
        self.field, self.message = field, message


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _dates(as_of: Any) -> list[date] | None:
    if as_of is None:
        return None
    found = []
    for n, each in enumerate(as_of if isinstance(as_of, list) else [as_of]):
        try:
            found.append(date.fromisoformat(Day().deserialize(each)))
        except ValidationError as error:
            field = f"as_of[{n}]" if isinstance(as_of, list) else "as_of"
            raise _Fault(field, str(error.messages[0])) from error
    if not found:
        raise _Fault("as_of", "Name at least one date.")
    return found


def _history(item: dict[str, Any]) -> model.LimbHistory:
    limb = limb_noun(item["limb"])
    sockets = tuple(socket_noun(one, limb.id) for one in item["sockets"])
    _check_sockets(limb, sockets)
    if item["checkins"] and not sockets:
        raise _Fault("sockets", "There are check-ins and no socket was ever fitted.")
    fitted = {socket.id: socket.fitted_on for socket in sockets}
    for n, pad in enumerate(item["pads"]):
        if pad["socket_id"] not in fitted:
            raise _Fault(f"pads[{n}].socket_id", "There is no socket with this id.")
        if date.fromisoformat(pad["on"]) < fitted[pad["socket_id"]]:
            raise _Fault(f"pads[{n}].on", "This day is before its socket was fitted.")
    for n, one in enumerate(item["measurements"]):
        if limb.amputated_on and date.fromisoformat(one["on"]) < limb.amputated_on:
            raise _Fault(f"measurements[{n}].on", "This day is before the amputation.")
    return model.LimbHistory(
        limb=limb,
        sockets=sockets,
        pads=tuple(pad_noun(one) for one in item["pads"]),
        measurements=tuple(measurement_noun(one) for one in item["measurements"]),
        checkins=_checkins(item["checkins"], limb, sockets),
        clinic_looks=_looks(item.get("clinic_looks")),
        decisions=tuple(
            model.Decision(date.fromisoformat(one["on"]), one["choice"], _day(one.get("planned_on")))
            for one in sorted(item["decisions"], key=lambda one: str(one["on"]))
        ),
    )


def _looks(days: list[str] | None) -> tuple[date, ...] | None:
    return None if days is None else tuple(sorted(date.fromisoformat(day) for day in days))


def _check_sockets(limb: model.Limb, sockets: tuple[model.Socket, ...]) -> None:
    seen: set[str] = set()
    if limb.born_on and limb.amputated_on and limb.amputated_on < limb.born_on:
        raise _Fault("limb.amputated_on", "This day is before the birth.")
    for n, socket in enumerate(sockets):
        if limb.born_on and socket.fitted_on < limb.born_on:
            raise _Fault(f"sockets[{n}].fitted_on", "This day is before the birth.")
        if socket.id in seen:
            raise _Fault(f"sockets[{n}].id", "Two sockets have this id.")
        seen.add(socket.id)
        if limb.amputated_on and socket.fitted_on < limb.amputated_on:
            raise _Fault(f"sockets[{n}].fitted_on", "This day is before the amputation.")
        if socket.retired_on and socket.retired_on < socket.fitted_on:
            raise _Fault(f"sockets[{n}].retired_on", "A socket can't be retired before it was fitted.")


def _checkins(raw: list[Any], limb: model.Limb, sockets: tuple[model.Socket, ...]) -> tuple[model.CheckIn, ...]:
    first_fitted = min((socket.fitted_on for socket in sockets), default=None)
    found: dict[str, model.CheckIn] = {}
    for n, each in enumerate(raw):
        one = wire.plain(each, limb.id) or _in_full(each, n, limb)
        if limb.amputated_on and one.date < limb.amputated_on:
            raise _Fault(f"checkins[{n}].date", f"This day is before the amputation ({limb.amputated_on}).")
        if first_fitted and one.date < first_fitted:
            raise _Fault(f"checkins[{n}].date", f"This day is before any socket was fitted ({first_fitted}).")
        known = found.setdefault(one.id, one)
        if known is not one and known != one:
            raise _Fault(f"checkins[{n}].id", "A different check-in already has this id.")
    busiest = Counter(one.date for one in found.values()).most_common(1)
    if busiest and busiest[0][1] > MOST_A_DAY:
        day, count = busiest[0]
        raise _Fault("checkins", f"{count} check-ins on {day}: at most {MOST_A_DAY} a day can be right.")
    return tuple(found.values())


def _in_full(raw: Any, n: int, limb: model.Limb) -> model.CheckIn:
    """The noun of a check-in that the schema has looked at, with its words for what is wrong."""
    if isinstance(raw, dict) and raw.get("limb_id", limb.id) != limb.id:
        raise _Fault(f"checkins[{n}].limb_id", "This check-in belongs to another limb.")
    try:
        # In a history the limb stands once, above all check-ins.
        item = wire.check({**raw, "limb_id": "limb"} if isinstance(raw, dict) else raw)
    except wire.Refused as refused:
        field, messages = next(iter(refused.errors.items()))
        where = f"checkins[{n}]" if field in ("body", "_schema") else f"checkins[{n}].{field}"
        raise _Fault(where, messages[0]) from refused
    return wire.noun(0, item["id"], limb.id, wire.body_of(item), None)


# Out


def _number(value: float, digits: int = 3) -> float:
    if not math.isfinite(value):
        raise ValueError("an assessment may not hold NaN or infinity")
    return round(value, digits) + 0.0


def estimate(value: model.Estimate | None) -> dict[str, float] | None:
    """A value with its 90 % interval, as JSON."""
    if value is None:
        return None
    return {"value": _number(value.value), "low": _number(value.low), "high": _number(value.high)}


def _date(day: date | None) -> str | None:
    return day.isoformat() if day else None


def signal(one: model.Signal) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "level": one.level,
        "since": one.since.isoformat(),
        "because": one.because,
        "evidence": list(one.evidence),
        "rule": one.rule,
        "sentences": sentences(one.sentences),
    }


def sentences(told: Iterable[model.Sentence]) -> list[dict[str, Any]]:
    """What words are made of, as it is kept beside them, so that they can be said again in another language."""
    return [{"code": each.code, "values": dict(map(_filled, each.values))} for each in told]


def reason(one: model.Reason) -> dict[str, str]:
    return {"code": one.code, "text": one.text}


def _filled(pair: tuple[str, model.Value]) -> tuple[str, Any]:
    name, value = pair
    if isinstance(value, date):
        return name, value.isoformat()
    if isinstance(value, float):
        return name, _number(value, 6)
    return name, list(value) if isinstance(value, tuple) else value


def _growth(found: model.Growth | None) -> dict[str, Any] | None:
    if found is None:
        return None
    out = found.runs_out
    return {
        "room_mm": estimate(found.room_mm),
        "runs_out": {"date": _date(out.date), "low": _date(out.low), "high": _date(out.high)} if out else None,
    }


def _recast(found: model.Recast | None) -> dict[str, Any] | None:
    if found is None:
        return None
    best = found.best
    return {
        "horizon_days": found.horizon_days,
        "band_mm": _number(found.band_mm),
        "now": {"good_days": estimate(found.now)},
        "in_21_days": {"good_days": estimate(found.later)},
        "now_and_in_21_days": {"good_days": estimate(found.two_step)},
        "best": {
            "date": _date(best.date),
            "low": _date(best.low),
            "high": _date(best.high),
            "good_days": estimate(best.good_days),
        },
        "log_reaches_days": found.reaches_days,
    }


def assessment_to_json(found: model.Assessment) -> dict[str, Any]:
    """An assessment as `plytide assess` writes it. Raises ValueError rather than write NaN or infinity."""
    settles = found.settles_on
    return {
        "limb_id": found.limb_id,
        "as_of": found.as_of.isoformat(),
        "checkins_used": found.checkins_used,
        "volume": {
            "change_pct": estimate(found.change_pct),
            "change_28d_pct": estimate(found.change_28d_pct),
            "coming_28d_pct": estimate(found.coming_28d_pct),
            "daily_swing_pct": estimate(found.daily_swing_pct),
            "dialysis_swing_pct": estimate(found.dialysis_swing_pct),
            "limb_change_pct": estimate(found.limb_change_pct),
            "reference_on": _date(found.reference_on),
        },
        "lacks": [reason(one) for one in found.lacks],
        "growth": _growth(found.growth),
        "reading_tags": list(found.reading_tags),
        "readiness": {
            "state": found.state,
            "since": _date(found.since),
            "settles_on": {"date": _date(settles.date), "low": _date(settles.low), "high": _date(settles.high)}
            if settles
            else None,
            "reasons": [reason(one) for one in found.reasons],
        },
        "outlook": [{"days": one.days, "if_cast_today_mm": estimate(one.if_cast_today_mm)} for one in found.outlook],
        "recast": _recast(found.recast),
        "signals": [signal(one) for one in found.signals],
    }
