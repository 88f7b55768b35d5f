"""The real server, killed at random, behind a network that drops, cuts, delays and doubles."""
