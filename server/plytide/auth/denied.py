"""A call that is refused: with a status, a code for programs and words for people."""

from __future__ import annotations

from typing import Any, TypeVar

T = TypeVar("T")


class Denied(Exception):
    """`status` is HTTP's; `code` is for programs, `message` and `fields` are for the user."""

    def __init__(
        self,
        status: int,
        code: str,
        message: str,
        *,
        fields: dict[str, list[str]] | None = None,
        retry_after: int = 0,
        beside: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(message)
        self.status, self.code, self.message, self.fields = status, code, message, fields or {}
        self.retry_after = retry_after
        self.beside = beside or {}  # said beside the error


def not_found() -> Denied:
    return Denied(404, "not-found", "There is nothing here that you may see.")


def seen(row: T | None) -> T:
    """What was asked for, of the caller's own clinic. Raises 404 where there is none."""
    if row is None:
        raise not_found()
    return row
