"""Measurements by hand: speed, load, calibration. `python -m tests.bench` lists them."""
