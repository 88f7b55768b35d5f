"""A password somebody chose → why it is refused, in words; nothing is asked outside this machine."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from functools import cache
from hashlib import blake2b
from pathlib import Path

from zxcvbn import zxcvbn

# zxcvbn's third step: safe where guesses are slowed, as here by Argon2id and by the wait at sign-in. Its lists of
# common and breached passwords, names and words are compared with their usual variations too.
FEWEST_GUESSES = 10**8
# Characters scored: the time grows faster than the square of the length (72 made to be slow took 4.5 s), and what
# follows can only help.
SCORED = 32
LEAST_OF_ITS_OWN = 8  # letters and figures that are neither the clinic's name nor the person's; judgement
# The commonest leaked passwords as long as any password here (`wire.staff.SHORTEST_PASSWORD`), as sorted digests:
# .ci/known_passwords.py says where they are from.
KNOWN_FILE = Path(__file__).parent / "known_passwords.bin"
DIGEST = 5  # bytes: one in 25 million other passwords is taken for a listed one


class Refused(Exception):
    """passphrases: this password is too easy to guess; the words say what to do."""


def _plain(text: str) -> str:
    return "".join(letter for letter in text.casefold() if letter.isalnum())


def digest(password: str) -> bytes:
    """Without regard to capitals: those are the first thing a guesser varies."""
    return blake2b(password.lower().encode(), digest_size=DIGEST).digest()


@cache
def _known() -> bytes:
    return KNOWN_FILE.read_bytes()


def is_known(password: str) -> bool:
    """Whether it is on the list of leaked passwords."""
    listed, wanted = _known(), digest(password)
    at = bisect_left(range(len(listed) // DIGEST), wanted, key=lambda k: listed[k * DIGEST : (k + 1) * DIGEST])
    return listed[at * DIGEST : (at + 1) * DIGEST] == wanted


def known_words(*about: str | None) -> list[str]:
    """What anybody may know: names whole and in their parts, of three letters or more."""
    parts = {"plytide"}
    for text in about:
        if text:
            whole = text.casefold()
            spaced = "".join(letter if letter.isalnum() else " " for letter in whole)
            parts |= {whole, _plain(whole), *spaced.split()}
    return sorted((part for part in parts if len(part) >= 3), key=lambda part: (-len(part), part))


def why_refused(password: str, words: Iterable[str]) -> str | None:
    """None for a password that may be used; `words` as `known_words` gives them."""
    if is_known(password):
        return "This password is on a list of leaked ones. Choose four words that do not belong together."
    given = list(words)
    left = _plain(password)
    for word in given:
        left = left.replace(_plain(word) or "\0", "")
    if left != _plain(password) and len(left) < LEAST_OF_ITS_OWN:
        return (
            "This password is mostly the name of the clinic, the person or Plytide. "
            "Choose four words that have nothing to do with them."
        )
    if zxcvbn(password[:SCORED], user_inputs=given)["guesses"] < FEWEST_GUESSES:
        return (
            "This password is on the lists that guessers try, or close to one. "
            "Choose four words that do not belong together."
        )
    return None


def check(password: str, *about: str | None) -> None:
    """Raises Refused. `about` are the names of the clinic and the person, their sign-in name and mail address."""
    words = why_refused(password, known_words(*about))
    if words:
        raise Refused(words)
