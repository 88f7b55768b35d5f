"""What the log says about the volume of a limb: `assess_volume`, and the view it gives of a day.

A history becomes a `log`, the bank is `told` of it, `one_pass` goes over its days, `numbers` are made of what the bank
believes, a limb's `column` of the pass holds them day by day, and `views` says them. `by_day` is for scoring.
"""

from plytide.engine.volume.by_day import DailyVolume, good_fit_by_day, volume_by_day
from plytide.engine.volume.constants import AIM, CONSTANTS, Constants
from plytide.engine.volume.one_pass import BANK
from plytide.engine.volume.percent import radius_mm
from plytide.engine.volume.view import ChangeAlarm, VolumeView
from plytide.engine.volume.views import assess_volume

__all__ = [
    "AIM",
    "BANK",
    "CONSTANTS",
    "ChangeAlarm",
    "Constants",
    "DailyVolume",
    "VolumeView",
    "assess_volume",
    "good_fit_by_day",
    "radius_mm",
    "volume_by_day",
]
