"""Numbers of the engine that a clinic does not set, and how far it looks ahead."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plytide.engine.core import limb_volume
from plytide.engine.core.good_fit import Aim

OUTLOOK_DAYS = (14, 30, 60, 90, 150, 365)
SAME_SHAPE_DAYS = 90
STAYS = np.array([28, 35, 42, 56, 70, 84, 105, 126, 150, 180, 210, 240, 270, 300, 330, 365], float)
AHEAD = np.array(
    [0, 3, 7, 11, 15, 20, 25, 30, 36, 43, 50, 60, 70, 80, 95, 110, 130, 150, 180, 220, 280, 360, 500], float
)
AIM = Aim()
BAND_DAYS = 400


@dataclass(frozen=True, slots=True)
class Constants:
    """Numbers of the engine that a clinic does not set. Judgement, set on simulated limbs."""

    enough_days: int = 6  # days with an answer before anything is said about a trend
    enough_span: int = 14  # and so many from the first of them: less than two weeks tell no trend
    enter: float = 0.03
    leave: float = 0.06
    hold: int = 3
    show_alarm_days: int = 14
    # The bank hedges between laws: on simulated limbs its 90 % interval of a coming change covers 94 to 95 %, so what
    # is told is drawn in by this. The steady claim is not: it keeps the whole width.
    drawn_in: float = 0.92
    # Each sock is off by 15 % or so, by itself; in a change two to four socks take part, so that 8 % or so is left of
    # it.
    thickness_scale_sd: float = 0.08
    unknown_make_sd: float = 0.25
    pad_sd_share: float = 0.35  # a pad takes up its thickness, give or take this share
    # A tape measurement, as shares of the radius (half of what they are of the volume). By itself: one observer's
    # repeats (te Slaa 2011). Another hand: reliability coefficient between raters. Habit: what 12 weeks add to it.
    tape_sd_share: float = limb_volume.ONE_HAND / (1.96 * math.sqrt(2))
    tape_hands_sd_share: float = limb_volume.BETWEEN_RATERS_SHARE / 2 / 1.96
    tape_drift_share: float = math.sqrt((limb_volume.TWELVE_WEEKS**2 - limb_volume.TWO_HANDS**2) / 84) / 1.96  # a day
    tape_near_days: int = 14  # a tape so long before the first day counts as of that day: judgement
    tells_within_mm: float = 0.7  # how well a forecast must be known, either way, to be called told by the log
    longest_days: int = 2000  # further back than this before the last date is not filtered


CONSTANTS = Constants()
