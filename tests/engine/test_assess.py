"""The whole line for a limb: a replay is what would have been said, however many dates are asked for at once."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest

from plytide.engine.assess import assess, assess_caseload
from plytide.model import CheckIn, Limb, LimbHistory, Measurement, Pad, SkinFinding, Sock, Socket, TapeLevel
from plytide.wire.history import assessment_to_json

START = date(2025, 1, 6)


def history(seed: int, span: int) -> LimbHistory:
    """A log with gaps, corrections to other dates, a second socket, pads, tape and findings."""
    draw = random.Random(seed)

    def day() -> date:
        return START + timedelta(days=draw.randint(0, span))

    checkins = []
    for n in range(60):
        replaces = f"c{draw.randint(0, n)}" if draw.random() < 0.15 else None
        finding = (SkinFinding("shin", draw.choice(["blister", "redness"]), 30),) if draw.random() < 0.1 else ()
        checkins.append(
            CheckIn(
                id=f"c{n}",
                limb_id="a",
                date=day(),
                stack=tuple(Sock(draw.choice([1, 3, 5]), "single") for _ in range(draw.randint(0, 3))),
                comfort=draw.randint(2, 9),
                fit=draw.choice(["loose", "good", "tight", None]),
                skin=finding,
                falls=draw.choice([None, None, 1]),
                weight_kg=draw.choice([None, 80.0, 86.0]),
                hours_worn=draw.choice([None, 4.0, 12.0]),
                replaces=replaces if replaces != f"c{n}" else None,
                withdrawn=replaces is not None and draw.random() < 0.3,
            )
        )
    return LimbHistory(
        Limb("a", amputated_on=date(2024, 10, 1), reference_circumference_mm=300),
        (
            Socket("s", START, stack_at_fitting=(Sock(1, "single"),), weight_limit_kg=85),
            Socket("t", day(), stack_at_fitting=(Sock(3, "single"),)),
        ),
        (Pad("s", day(), 1.5),),
        (Measurement(day(), (TapeLevel(0, 240), TapeLevel(40, 290))),),
        tuple(checkins),
    )


def known_on(whole: LimbHistory, day: date) -> LimbHistory:
    """Only what was written up to the end of a day."""
    return replace(
        whole,
        sockets=tuple(one for one in whole.sockets if one.fitted_on <= day),
        pads=tuple(one for one in whole.pads if one.on <= day),
        measurements=tuple(one for one in whole.measurements if one.on <= day),
        checkins=tuple(one for one in whole.checkins if one.date <= day),
    )


@pytest.mark.parametrize(("seed", "span"), [(1, 90), (2, 90), (3, 200), (4, 3000)])
def test_many_dates_at_once_say_what_each_alone_says_of_what_was_known(seed: int, span: int) -> None:
    whole = history(seed, span)
    dates = [START + timedelta(days=round(span * share)) for share in (0.9, 0.1, 1.1, 0.4, 0.7, 0.0, 0.5)]
    together = [assessment_to_json(said) for said in assess(whole, dates)]
    assert together == [assessment_to_json(assess(known_on(whole, day), [day])[0]) for day in dates]


def test_a_limb_is_told_the_same_alone_and_among_others() -> None:
    many = [history(seed, 120) for seed in range(12)]
    last = [START + timedelta(days=120)]
    among = [assessment_to_json(said[0]) for said in assess_caseload(many, [last] * len(many))]
    assert among == [assessment_to_json(assess(one, last)[0]) for one in many]


def test_without_a_limb_there_is_no_answer_and_no_fault() -> None:
    assert assess_caseload([], []) == []
    assert assess(history(1, 30), []) == []
