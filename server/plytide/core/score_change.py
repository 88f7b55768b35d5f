"""When a change of a 0–10 score is more than noise.

Comfort (10 is best): the single score's minimal detectable change; an average up by 2 marks a successful change of
socket (Prosthesis 2025;7(3):53). Pain (0 is best): −2 points or −30 % is what people call important (Farrar et al.
2001, Pain 94:149-158, 2724 people); since in practice 2 points were often not enough (PMC9299931), both are asked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

COMFORT_SEM = 1.17  # Hafner et al. 2016 (JRRD 53(6):797-812): the study is confirmed, its numbers are from memory
REFIT_GAIN = 2.0  # Prosthesis 2025;7(3):53
PAIN_POINTS, PAIN_SHARE = 2.0, 0.30  # Farrar et al. 2001
Z = {0.90: 1.645, 0.95: 1.960}
HAIR = 1e-9  # means of tenths are not exact in binary


@dataclass(frozen=True, slots=True)
class PainChange:
    """What a change of pain meets. `points` and `share` are for less pain, `worse` for more."""

    points: bool
    share: bool
    worse: bool

    @property
    def better(self) -> bool:
        return self.points and self.share


def minimal_detectable_change(sem: float, confidence: float = 0.90) -> float:
    """SEM · z · √2, in the score's points: two scores closer than that may be the same. Confidence 0.90 or 0.95."""
    return sem * Z[confidence] * math.sqrt(2)


def comfort_differs(before: float, after: float, confidence: float = 0.90) -> bool:
    """Whether two single comfort scores differ by more than the score's own noise."""
    return abs(after - before) > minimal_detectable_change(COMFORT_SEM, confidence)


def refit_succeeded(before: float, after: float) -> bool:
    """Whether a weekly average of comfort rose as far as in socket changes that were called successful."""
    return after - before >= REFIT_GAIN - HAIR


def pain_change(before: float, after: float) -> PainChange:
    """Pain scores or means, 0 to 10."""
    less = before - after
    return PainChange(
        points=less >= PAIN_POINTS - HAIR,
        share=before > 0 and less / before >= PAIN_SHARE - HAIR,
        worse=-less >= PAIN_POINTS - HAIR,
    )
