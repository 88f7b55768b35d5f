"""HTTP ↔ one call each. Parse, ask, answer."""
