"""The published early volume curve: V(w) = V1 − 200.5 ln w, w weeks since amputation.

Tantua et al. (2014), JRRD 51(7):1119-1126, 21 transtibial limbs by laser scan, weeks 1 to 24: 200.5 mL, 9.7 % of
the initial volume, lost per unit of ln(weeks); a large spread between people; no point of stabilisation found.
"""

from __future__ import annotations

import math

LOSS_ML = 200.5
LOSS_SHARE = 0.097
FIRST_ML = 2067.0  # derived: 200.5 / 0.097
VALID_WEEKS = (1.0, 24.0)


def volume_ml(week: float) -> float:
    """The average limb's volume in ml. Raises ValueError outside weeks 1 to 24, where nothing was measured."""
    if not VALID_WEEKS[0] <= week <= VALID_WEEKS[1]:
        raise ValueError("the curve holds for weeks 1 to 24 only")
    return FIRST_ML - LOSS_ML * math.log(week)


def change_pct(from_week: float, to_week: float) -> float:
    """Percent change of the average limb between two weeks."""
    return (volume_ml(to_week) / volume_ml(from_week) - 1) * 100
