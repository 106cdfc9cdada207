"""Going through a document from outside: every value is asked for by name and by kind."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar

Interval = tuple[float, float]

_T = TypeVar("_T")


class PartError(ValueError):
    """A value that is not as agreed.

    Parameters
    ----------
    where : str
        Its place in the document.
    what : str
        What is wrong with it.
    """

    def __init__(self, where: str, *, what: str) -> None:
        super().__init__(f"{where}: {what}")


class Part:
    """An object of a document, with its place in it for the message about what is wrong there.

    Parameters
    ----------
    value : object
        What a file had there.
    where : str
        Its place, such as ``"document.takes[0]"``.
    """

    def __init__(self, value: object, *, where: str) -> None:
        if not isinstance(value, dict):
            raise PartError(where, what="it is no object")
        self._value: dict[str, Any] = value
        self.where = where

    def value(self, key: str) -> Any:  # noqa: ANN401 - what came out of a file may be anything
        """Whatever stands under a key."""
        if key not in self._value:
            raise PartError(f"{self.where}.{key}", what="it is missing")
        return self._value[key]

    def has(self, key: str) -> bool:
        """Whether a key is there: documents of earlier versions lack some."""
        return key in self._value

    def text_or_none(self, key: str) -> str | None:
        """A text or ``null``."""
        value = self.value(key)
        if value is not None and not isinstance(value, str):
            raise PartError(f"{self.where}.{key}", what="it is no text")
        return value

    def text(self, key: str) -> str:
        """A text."""
        return self._there(key, self.text_or_none(key))

    def choice_or_none(self, key: str, choices: tuple[str, ...]) -> str | None:
        """One of a few texts, or ``null``."""
        value = self.text_or_none(key)
        if value is not None and value not in choices:
            raise PartError(f"{self.where}.{key}", what=f"it is none of {', '.join(choices)}")
        return value

    def choice(self, key: str, choices: tuple[str, ...]) -> str:
        """One of a few texts."""
        return self._there(key, self.choice_or_none(key, choices))

    def flag(self, key: str) -> bool:
        """True or false."""
        value = self.value(key)
        if not isinstance(value, bool):
            raise PartError(f"{self.where}.{key}", what="it is neither true nor false")
        return value

    def number_or_none(self, key: str) -> float | None:
        """A finite number or ``null``."""
        value = self.value(key)
        return None if value is None else finite(value, where=f"{self.where}.{key}")

    def number(self, key: str) -> float:
        """A finite number."""
        return self._there(key, self.number_or_none(key))

    def count(self, key: str) -> int:
        """A whole number from 0."""
        value = self.value(key)
        if not isinstance(value, int) or isinstance(value, bool) or value < 0:
            raise PartError(f"{self.where}.{key}", what="it is no count")
        return value

    def counts(self, key: str) -> tuple[int, ...]:
        """Whole numbers from 0."""
        value, where = self.value(key), f"{self.where}.{key}"
        if not isinstance(value, list) or any(
            isinstance(one, bool) or not isinstance(one, int) or one < 0 for one in value
        ):
            raise PartError(where, what="they are no counts")
        return tuple(value)

    def interval(self, key: str) -> Interval | None:
        """Two numbers in order, or ``null``."""
        value, where = self.value(key), f"{self.where}.{key}"
        if value is None:
            return None
        if not isinstance(value, list) or len(value) != 2:
            raise PartError(where, what="it is no pair of numbers")
        low, high = (finite(end, where=where) for end in value)
        if low > high:
            raise PartError(where, what="its ends have changed places")
        return low, high

    def numbers(self, key: str, *, n: int) -> tuple[float, ...]:
        """So many finite numbers."""
        value, where = self.value(key), f"{self.where}.{key}"
        if not isinstance(value, list) or len(value) != n:
            raise PartError(where, what=f"it is not {n} numbers")
        return tuple(finite(one, where=where) for one in value)

    def instant(self, key: str) -> datetime | None:
        """A date with time and zone, or ``null``."""
        text, where = self.text_or_none(key), f"{self.where}.{key}"
        if text is None:
            return None
        try:
            instant = datetime.fromisoformat(text)
        except ValueError as error:
            raise PartError(where, what="it is no date") from error
        if instant.tzinfo is None:
            raise PartError(where, what="it has no time zone")
        return instant

    def part(self, key: str) -> Part:
        """An object."""
        return Part(self.value(key), where=f"{self.where}.{key}")

    def part_or_none(self, key: str) -> Part | None:
        """An object or ``null``."""
        return None if self.value(key) is None else self.part(key)

    def each(self, key: str, make: Callable[[Part], _T]) -> tuple[_T, ...]:
        """A list of objects, each made into something."""
        value, where = self.value(key), f"{self.where}.{key}"
        if not isinstance(value, list):
            raise PartError(where, what="it is no list")
        return tuple(make(Part(one, where=f"{where}[{i}]")) for i, one in enumerate(value))

    def _there(self, key: str, value: _T | None) -> _T:
        if value is None:
            raise PartError(f"{self.where}.{key}", what="it is null")
        return value


def finite(value: object, *, where: str) -> float:
    """Return a number, refusing what is none, NaN, and what is too large to be one here."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PartError(where, what="it is no number")
    try:
        number = float(value)
    except OverflowError as error:
        raise PartError(where, what="it is too large") from error
    if not math.isfinite(number):
        raise PartError(where, what="it is not finite")
    return number
