"""Measurements by hand: speed, load, calibration. Not part of the test run. `python -m tests.bench` lists them."""
