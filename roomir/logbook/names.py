"""Names of rooms and stages: what is one, which are the same, and which are nearly so.

Names are data: every sign is allowed and none does anything.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from roomir.errors import ParameterError

LONGEST_NAME = 200
"""Longest name of a room, a stage or a spot. [characters]"""

_NEAR = 0.8
"""Share of common signs from which on two names are taken for each other: a swapped pair in five."""

_ROMAN = re.compile(r"(?=[ivxlc])(xc|xl|l?x{0,3})(ix|iv|v?i{0,3})")
_NUMBER_WORDS = (
    *("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"),
    *("first", "second", "third", "fourth", "fifth", "sixth", "last"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class NearName:
    """A new name that may be a slip of the pen.

    Attributes
    ----------
    kind : str
        ``"room"`` or ``"stage"``.
    wanted : str
        The name that was given.
    near : str
        The name that is already there.
    """

    kind: str
    wanted: str
    near: str


Decide = Callable[[NearName], str]
"""Chooses the name to use for one that may be a slip of the pen."""


def refuse_near(near: NearName) -> str:
    """Choose neither.

    Raises
    ------
    ParameterError
        ``near-miss``, always.
    """
    raise ParameterError(
        f'there is no {near.kind} "{near.wanted}" yet, but there is "{near.near}"',
        code="near-miss",
        remedy=f'add --yes if "{near.near}" is meant, or --new if "{near.wanted}" is a new {near.kind}',
    )


def use_near(near: NearName) -> str:
    """Choose the name that is already there."""
    return near.near


def use_new(near: NearName) -> str:
    """Choose the name that was given."""
    return near.wanted


def clean_name(text: str, *, kind: str) -> str:
    """Return a name as it is kept: composed Unicode without space around it.

    Raises
    ------
    ParameterError
        ``bad-name``: empty, too long, or not text.

    Examples
    --------
    >>> clean_name("  dairy ", kind="room")
    'dairy'
    """
    name = unicodedata.normalize("NFC", text).strip()
    if not name:
        raise ParameterError(
            f"a {kind} needs a name", code="bad-name", remedy="give it one with letters or numbers"
        )
    if len(name) > LONGEST_NAME:
        raise ParameterError(
            f'the name of the {kind} "{name[:20]}..." has {len(name)} signs',
            code="bad-name",
            remedy=f"keep it within {LONGEST_NAME}; there is room for more in --note",
        )
    return clean_text(name, what=f"name of the {kind}")


def clean_text(text: str, *, what: str) -> str:
    """Return text as it is kept, refusing what is none.

    Raises
    ------
    ParameterError
        ``bad-name``: bytes that are no text.
    """
    try:
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise ParameterError(
            f"the {what} holds bytes that are no text", code="bad-name", remedy="write it in UTF-8"
        ) from error
    if "\0" in text:
        raise ParameterError(f"the {what} holds a zero byte", code="bad-name", remedy="leave it out")
    return text


LONGEST_DESCRIPTION = 200_000
"""Longest description of a room. [characters]"""


def clean_description(text: str) -> str:
    """Return the description of a room as it is kept.

    Raises
    ------
    ParameterError
        ``bad-room`` where it is longer than any room needs, ``bad-name`` where it is no text.
    """
    if len(text) > LONGEST_DESCRIPTION:
        raise ParameterError(
            f"the description of the room has {len(text)} signs",
            code="bad-room",
            remedy=f"keep it within {LONGEST_DESCRIPTION}",
        )
    return clean_text(text, what="description of the room")


def choose_name(wanted: str, *, kind: str, there: Iterable[str], decide: Decide) -> str:
    """Return the name to use: the one that was given, unless another one is likely to be meant.

    Parameters
    ----------
    wanted : str
        A clean name.
    kind : str
        ``"room"`` or ``"stage"``.
    there : iterable of str
        The names that are there.
    decide : Decide
        Asked where the name is new and close to one that is there.
    """
    names = list(there)
    if wanted in names:
        return wanted
    near = nearest(wanted, names)
    return wanted if near is None else decide(NearName(kind=kind, wanted=wanted, near=near))


def nearest(wanted: str, names: Iterable[str]) -> str | None:
    """Return the name that ``wanted`` may be a slip of, or None.

    Names that differ in a number are different names, however long the rest.

    Examples
    --------
    >>> nearest("diary", ["dairy", "booth"])
    'dairy'
    >>> nearest("Stage 2", ["Stage 1"]), nearest("stage II", ["stage I"])
    (None, None)
    """
    likeness = {name: _likeness(wanted, name) for name in names}
    best = max(likeness, key=lambda name: likeness[name], default=None)
    return best if best is not None and likeness[best] >= _NEAR else None


def _likeness(one: str, other: str) -> float:
    first, second = _folded(one), _folded(other)
    if _numbers(first) != _numbers(second):
        return 0.0
    return difflib.SequenceMatcher(None, "".join(first), "".join(second), autojunk=False).ratio()


def _folded(name: str) -> list[str]:
    """The words of a name without case, accents and what stands between words; numbers on their own."""
    plain = "".join(
        sign for sign in unicodedata.normalize("NFKD", name.casefold()) if not unicodedata.combining(sign)
    )
    words = re.findall(r"\d+|[^\W\d_]+", plain)
    return words or ([plain] if plain else [])


def _numbers(words: list[str]) -> list[str]:
    """What counts: figures, Roman ones, numbers in words, and single letters as in "spot A"."""
    return [
        word.lstrip("0") or "0"
        for word in words
        if word[0].isdigit() or len(word) == 1 or word in _NUMBER_WORDS or _ROMAN.fullmatch(word)
    ]
