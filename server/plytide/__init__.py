"""Sock counts from a phone, read as residual-limb volume, for the prosthetist's worklist."""

from pathlib import Path

# The pages: inside the package where it was installed from a wheel, beside server/ in a checkout.
_INSTALLED = Path(__file__).resolve().parent / "web"
WEB_ROOT = _INSTALLED if _INSTALLED.is_dir() else Path(__file__).resolve().parents[2] / "web"
