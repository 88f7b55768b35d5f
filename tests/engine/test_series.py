"""Check-ins to observations: what stands after corrections, what a day holds, what was known when."""

from __future__ import annotations

import math
from datetime import date, timedelta

import pytest

from plytide.engine.series import resolved, series_of
from plytide.model import CheckIn, Limb, LimbHistory, Measurement, Pad, Sock, Socket, TapeLevel

FITTED = date(2026, 5, 1)
THIN, THREE = (Sock(1, "single"),), (Sock(3, "single"),)


def said(day: int, stack: tuple[Sock, ...] = THIN, **more: object) -> CheckIn:
    given: dict[str, object] = {"id": f"c{day}-{more.get('moment', '')}", "comfort": 7, "fit": "good"} | more
    return CheckIn(limb_id="a", date=FITTED + timedelta(days=day), stack=stack, **given)  # type: ignore[arg-type]


def history(*checkins: CheckIn, **more: object) -> LimbHistory:
    socket = Socket("s", FITTED, stack_at_fitting=THIN)
    return LimbHistory(Limb("a"), (socket,), checkins=checkins, **more)  # type: ignore[arg-type]


def test_of_two_corrections_the_one_that_came_last_stands() -> None:
    entry = said(3, id="one", seq=1)
    late = said(3, THREE, id="late", replaces="one", seq=9)
    early = said(3, THREE, id="early", replaces="one", seq=5, comfort=2)
    assert [c.id for c in resolved([entry, late, early])] == ["late"]


def test_without_an_arrival_number_the_later_in_the_file_stands() -> None:
    assert [
        c.id for c in resolved([said(3, id="one"), said(3, id="x", replaces="one"), said(3, id="y", replaces="one")])
    ] == ["y"]


def test_a_correction_of_a_correction_replaces_both() -> None:
    chain = [said(3, id="one"), said(3, id="two", replaces="one"), said(3, id="three", replaces="two")]
    assert [c.id for c in resolved(chain)] == ["three"]


def test_a_withdrawn_entry_is_gone() -> None:
    assert resolved([said(3, id="one"), said(3, id="gone", replaces="one", withdrawn=True)]) == []


def test_a_correction_of_something_never_received_stands_alone() -> None:
    assert [c.id for c in resolved([said(3, id="two", replaces="lost")])] == ["two"]


def test_corrections_in_a_circle_do_not_hang() -> None:
    assert len(resolved([said(3, id="a", replaces="b"), said(3, id="b", replaces="a")])) >= 1


def test_the_order_of_arrival_does_not_change_the_series() -> None:
    entries = [said(d, THREE if d > 4 else THIN) for d in range(9)]
    forward, back = series_of(history(*entries)), series_of(history(*reversed(entries)))
    assert forward.fill.tolist() == back.fill.tolist() and forward.ids == back.ids


def test_a_day_nobody_wrote_about_is_absent() -> None:
    series = series_of(history(said(0), said(5)))
    assert (series.day - FITTED.toordinal()).tolist() == [0, 5]


def test_the_last_word_of_a_part_of_the_day_counts_and_parts_are_kept_apart() -> None:
    first, last = said(1, THIN, id="x", time="07:00"), said(1, THREE, id="y", time="08:00")
    evening = said(1, THREE, id="z", time="20:00", moment="end_of_day")
    series = series_of(history(last, evening, first))
    assert series.ids == ("y", "z") and series.phase.tolist() == [0, 2]


def test_thickness_is_summed_not_ply() -> None:
    stack = (Sock(3, "single"), Sock(1, "single"), Sock(1, "single"))
    assert series_of(history(said(0, stack))).fill[0] == pytest.approx(
        2.6
    )  # by Sanders et al. 2012: 1.2 + 0.7 + 0.7 mm; a 5-ply is 1.5 mm


def test_the_next_choice_is_one_the_wearer_had_used_or_one_thin_sock_away() -> None:
    series = series_of(history(said(0, THIN), said(1, THREE), said(2, THIN)))
    assert series.up[0] == pytest.approx(0.7)  # nothing else seen yet
    assert series.down[1] == pytest.approx(0.5)  # 1.2 over the 0.7 worn before
    assert series.up[2] == pytest.approx(0.5)


def test_blends_have_smaller_steps() -> None:
    assert series_of(history(said(0, (Sock(3, "blend"),)))).up[0] == pytest.approx(0.4)


def test_a_pad_counts_from_its_day_in_its_own_socket() -> None:
    pads = (Pad("s", FITTED + timedelta(days=2), 1.5), Pad("other", FITTED, 9.0))
    series = series_of(history(said(1), said(2), pads=pads))
    assert series.fill.tolist() == pytest.approx([0.7, 2.2])


def test_an_answer_the_same_in_every_word_is_an_echo() -> None:
    series = series_of(history(said(0), said(1), said(2, comfort=5), said(3, fit="loose", comfort=5)))
    assert series.echo.tolist() == [False, True, False, False]


def test_moved_is_the_direction_of_the_stack() -> None:
    series = series_of(history(said(0), said(1, THREE), said(2, THREE), said(3)))
    assert series.moved.tolist() == [0, 1, 0, -1]


def tape(day: int, *circumferences: float, by: str | None = None, first: int = 0) -> Measurement:
    levels = tuple(TapeLevel(40.0 * (first + k), c) for k, c in enumerate(circumferences))
    return Measurement(FITTED + timedelta(days=day), levels, measured_by=by, id=f"m{day}")


def test_tape_is_compared_with_the_measurement_before_at_the_same_levels() -> None:
    first, second = series_of(history(said(0), measurements=(tape(0, 300, 310), tape(30, 293.7, 303.7, 999)))).tapes
    assert (first.mm, first.before) == (0.0, None)
    assert (second.day, second.before) == (FITTED.toordinal() + 30, FITTED.toordinal())
    assert second.mm == pytest.approx(6.3 / 6.2832, abs=1e-3)  # circumference by 2 pi: a smaller limb is a gain of need
    assert second.circumference_mm == pytest.approx((293.7 + 303.7) / 2)


def test_a_tape_far_from_the_fitting_still_counts_against_the_next() -> None:
    late, later = tape(40, 300), tape(80, 290)
    series = series_of(history(said(0), measurements=(late, later)))
    assert [one.mm for one in series.tapes] == pytest.approx([0.0, 10 / (2 * math.pi)])


def test_levels_left_out_once_go_on_from_where_they_were_measured() -> None:
    """The scale is the first tape's, level by level: 300, then the neighbour alone, then both again."""
    taken = (tape(0, 300, 320), tape(20, 314, first=1), tape(40, 290, 310))
    first, second, third = series_of(history(said(0), measurements=taken)).tapes
    turn = 2 * math.pi
    assert (first.mm, second.mm) == pytest.approx((0.0, 6 / turn))
    assert third.mm == pytest.approx(10 / turn)


def test_a_tape_without_a_known_level_begins_the_scale_anew() -> None:
    series = series_of(history(said(0), measurements=(tape(0, 300), tape(20, 250, first=3), tape(40, 245, first=3))))
    assert [one.before for one in series.tapes] == [None, None, FITTED.toordinal() + 20]
    assert [one.mm for one in series.tapes] == pytest.approx([0.0, 0.0, 5 / (2 * math.pi)])


def test_the_same_hand_is_a_named_one() -> None:
    hands = ("Ida", " ida ", "Teodor", None, None)
    taken = tuple(tape(10 * n, 300, by=by) for n, by in enumerate(hands))
    series = series_of(history(said(0), measurements=taken))
    assert [one.same_hand for one in series.tapes] == [False, True, False, False, False]


def test_an_empty_log_has_an_empty_series() -> None:
    series = series_of(history())
    assert len(series.day) == 0 and series.first_day == FITTED.toordinal()
