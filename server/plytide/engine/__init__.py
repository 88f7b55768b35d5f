"""Observations to assessments and plans. Pure: no clock, no database, no page."""
