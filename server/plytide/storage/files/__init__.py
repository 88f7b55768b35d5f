"""Files as a whole: copies, keys, locks, health."""
