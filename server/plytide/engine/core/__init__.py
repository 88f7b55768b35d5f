"""Numbers only: arrays and parameters in, frozen results out. No person, no date, no database."""
