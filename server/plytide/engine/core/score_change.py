"""When a change of a 0–10 score of pain (0 is best) is more than noise.

−2 points went with "much improved" (Farrar et al. 2001, Pain 94:149-158, 2724 people). That as many the other way are
worse is judgement.
"""

from __future__ import annotations

PAIN_POINTS = 2.0  # Farrar et al. 2001
HAIR = 1e-9  # means of tenths are not exact in binary


def hurts_more(before: float, after: float) -> bool:
    """Of pain scores or their means, 0 to 10."""
    return after - before >= PAIN_POINTS - HAIR
