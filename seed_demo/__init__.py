"""An invented clinic and its people: seeded stories that return their truth and enter by the front door."""
