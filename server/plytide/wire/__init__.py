"""JSON ↔ nouns. The only room that trusts nobody."""
