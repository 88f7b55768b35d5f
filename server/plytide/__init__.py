"""Sock counts from a phone, read as residual-limb volume, for the prosthetist's worklist."""
