"""What a signal's file says of its kind: the words for the clinic's page, the visit and the payer."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Kind:
    """`kind` is the code on the wire and in the database: it stays for ever, whatever the words become.

    `payer`: under which head of the payer's page its because is evidence ("limb", "function" or "wear"), and in which
    place there; None where it is none.
    """

    kind: str
    label: str
    ask: str
    look: str
    payer: tuple[str, int] | None = None
