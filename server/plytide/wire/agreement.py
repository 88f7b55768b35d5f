"""The physician's agreement to the safety rules."""

from __future__ import annotations

from plytide.wire.fields import Strict, Text


class AgreementSchema(Strict):
    physician = Text(most=120, required=True)
    sha256 = Text(most=64, required=True)  # of the rules as the page showed them
