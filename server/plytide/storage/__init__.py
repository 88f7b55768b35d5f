"""Nouns ↔ rows: the only SQL. One database file per clinic beside a small registry file."""
