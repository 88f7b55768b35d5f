"""What was worn, in ply: the first stack of a day, the usual one, the move, and the strip of four weeks."""

from __future__ import annotations

from datetime import date, timedelta

from plytide.engine.worn import STRIP_DAYS, codes, first_of, fit_since, moved, strip, usual
from plytide.model import CheckIn, Limb, LimbHistory, Pad, Sock, Socket

DAY = date(2026, 8, 28)
ONE, FIVE = Sock(1, "single"), Sock(5, "single")


def said(back: int, *socks: Sock, moment: str = "putting_on", time: str | None = None) -> CheckIn:
    return CheckIn(f"c{back}{moment}", "a", DAY - timedelta(days=back), socks, 7, moment=moment, time=time)


def test_a_day_begins_with_what_was_put_on_and_an_evening_alone_says_nothing_of_it() -> None:
    evening, noon, morning = (said(0, ONE, FIVE, moment=m) for m in ("end_of_day", "during", "putting_on"))
    assert first_of([evening]) is None
    assert first_of([evening, said(0, FIVE, moment="during")]) == (FIVE,)
    assert first_of([noon, said(0, ONE), evening, morning]) == (ONE,)


def test_what_is_usual_was_worn_by_somebody() -> None:
    assert usual([]) is None
    assert usual([(ONE,), (FIVE,), (FIVE, ONE)]) == (FIVE,)
    assert usual([(ONE,), (FIVE,)]) == (ONE,)
    assert codes((ONE, Sock(0), FIVE, Sock(3, "blend"))) == ("5", "3b", "1", "0")


def test_a_move_is_from_the_usual_stack_to_the_one_worn_and_counts_the_days_between() -> None:
    log = [said(back, ONE) for back in range(12, 4, -1)] + [said(3, FIVE), said(1, FIVE, ONE)]
    found = moved(log, DAY - timedelta(days=4), DAY)
    assert found is not None
    assert (found.before, found.after, found.days) == ((ONE,), (FIVE, ONE), 4)
    assert moved(log, DAY - timedelta(days=20), DAY) is None  # nothing is known from before
    assert moved(log, DAY + timedelta(days=1), DAY + timedelta(days=2)) is None  # nor from after


def test_the_strip_has_a_place_for_each_day_and_none_for_a_silent_one() -> None:
    sockets = (Socket("s", DAY - timedelta(days=90), stack_at_fitting=(ONE,)),)
    log = [said(back, Sock(3, "single")) for back in range(40, 20, -1)] + [said(back, FIVE, ONE) for back in (2, 0)]
    found = strip(LimbHistory(Limb("a"), sockets), log, DAY)
    assert len(found.mm) == STRIP_DAYS
    assert [found.mm[n] is None for n in (0, 6, 7, 24, 25, 26, 27)] == [False, False, True, True, False, True, False]
    assert (found.now, found.now_on, found.was) == ((FIVE, ONE), DAY, (Sock(3, "single"),))
    assert found.mm[0] is not None and found.fitted_mm is not None and found.fitted_mm < found.mm[0]
    later = strip(LimbHistory(Limb("a"), sockets), log, DAY + timedelta(days=60))
    assert (later.now, later.now_on, later.was, set(later.mm)) == (None, None, None, {None})


def test_the_same_stack_in_another_order_is_not_another_one() -> None:
    log = [said(27, ONE, FIVE), said(0, FIVE, ONE)]
    assert strip(LimbHistory(Limb("a"), ()), log, DAY).was is None
    assert strip(LimbHistory(Limb("a"), ()), log, DAY).fitted_mm is None


def test_a_new_socket_is_no_change_of_the_limb() -> None:
    """Four weeks ago another socket was worn: what it needed is not what "was"."""
    sockets = (
        Socket("s", DAY - timedelta(days=90), stack_at_fitting=(ONE,)),
        Socket("t", DAY - timedelta(days=10), stack_at_fitting=(FIVE,)),
    )
    log = [said(back, FIVE, FIVE) for back in range(27, 10, -1)] + [said(back, FIVE) for back in range(9, -1, -1)]
    found = strip(LimbHistory(Limb("a"), sockets), log, DAY)
    assert (found.was, found.socket_on) == (None, DAY - timedelta(days=10))
    alone = strip(LimbHistory(Limb("a"), sockets[:1]), log, DAY)
    assert (alone.was, alone.socket_on) == ((FIVE, FIVE), None)


def test_what_was_four_weeks_ago_is_not_said_of_the_same_week() -> None:
    """Who has been silent since: the last stack is of that week, too, and nothing has moved."""
    log = [said(back, ONE) for back in range(27, 23, -1)] + [said(22, FIVE)]
    found = strip(LimbHistory(Limb("a"), ()), log, DAY)
    assert (found.now, found.now_on, found.was) == ((FIVE,), DAY - timedelta(days=22), None)
    assert strip(LimbHistory(Limb("a"), ()), [*log, said(20, FIVE)], DAY).was == (ONE,)


def test_a_pad_is_no_change_of_the_limb_either() -> None:
    """With a pad in the socket the same limb needs fewer socks."""
    socket = Socket("s", DAY - timedelta(days=90))
    log = [said(back, FIVE, ONE) for back in range(27, 10, -1)] + [said(back, ONE) for back in range(10, -1, -1)]
    old, new = (Pad("s", DAY - timedelta(days=back), 1.5, "shin_front") for back in (40, 10))
    other, coming = Pad("other", new.on, 1.5), Pad("s", DAY + timedelta(days=1), 1.5)
    was = [
        strip(LimbHistory(Limb("a"), (socket,), pads), log, DAY).was for pads in ((), (old,), (other, coming), (new,))
    ]
    assert was == [(FIVE, ONE), (FIVE, ONE), (FIVE, ONE), None]


def test_a_fit_is_as_old_as_the_last_change_of_socket_or_pad() -> None:
    sockets = (Socket("s", DAY - timedelta(days=90)), Socket("t", DAY - timedelta(days=9)))
    pads = (Pad("s", DAY - timedelta(days=20), 1.5), Pad("s", DAY - timedelta(days=3), 1.5))
    history = LimbHistory(Limb("a"), sockets, pads)
    days = [fit_since(history, DAY - timedelta(days=back)) for back in (0, 9, 10, 20, 21, 91)]
    assert days == [sockets[1].fitted_on] * 2 + [pads[0].on] * 2 + [sockets[0].fitted_on, None]


def test_another_make_of_the_same_label_is_no_move() -> None:
    """ "3-ply → 3-ply" says nothing: of a make that was not known before, the limb is told of in words."""
    log = [said(back, Sock(3)) for back in range(9, 4, -1)] + [
        said(back, Sock(3, "single")) for back in range(4, -1, -1)
    ]
    assert moved(log, DAY - timedelta(days=4), DAY) is None
    assert strip(LimbHistory(Limb("a"), ()), [said(27, Sock(3)), said(0, Sock(3, "single"))], DAY).was is None
