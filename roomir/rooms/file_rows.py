"""Rows and values of a room file, whose faults are gathered so that all are told together."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from roomir.errors import ParameterError, RoomirError
from roomir.rooms.materials import is_number
from roomir.units import parse_area_m2

Table = dict[str, Any]
_Value = TypeVar("_Value")
_Result = TypeVar("_Result")


class FileRows:
    """Takes values out of a file and notes what is wrong with them.

    Parameters
    ----------
    document : dict
        The file, parsed.
    name : str
        What it is called.
    """

    def __init__(self, document: Table, *, name: str) -> None:
        self._document = document
        self._name = name
        self._problems: list[RoomirError] = []

    def _rows(self, key: str, *, of: Table | None = None, where: str = "") -> list[Table]:
        rows = (self._document if of is None else of).get(key, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            self._fault(f"{where}{key}", "is no list of tables", f"begin each with [[{key}]]")
            return []
        return rows

    def _area(self, row: Table, stem: str, *, where: str, needed: bool = True) -> float | None:
        key = self._one_of(row, f"{stem}_m2", stem, where=where)
        value = row.get(key)
        if value is None:
            if needed:
                self._fault(
                    f"{where}{stem}_m2", "is missing", f'write {stem}_m2 = 8.3 or {stem} = "90 sq ft"'
                )
            return None
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            self._fault(
                f"{where}{key}", f"is {value!r}, no area", f'write {stem}_m2 = 8.3 or {stem} = "90 sq ft"'
            )
            return None
        if value == 0 and not needed:
            return 0.0
        return self._parsed(
            parse_area_m2, value if isinstance(value, str) else repr(value), key=f"{where}{key}"
        )

    def _one_of(self, row: Table, key: str, other: str, *, where: str) -> str:
        """Which of two keys for the same thing a row has; that it has both is a fault."""
        if key in row and other in row:
            self._fault(f"{where}{other}", f"stands beside {key}", "give one of them")
        return key if key in row else other

    def _flag(self, row: Table, key: str, *, where: str) -> bool:
        value = row.get(key, False)
        if not isinstance(value, bool):
            self._fault(f"{where}{key}", f"is {value!r}", "write true or false")
        return value is True

    def _optional(self, row: Table, key: str, *, where: str, high: float = 1e6) -> float | None:
        if key not in row:
            return None
        return self._number(row, key, where=where, low=0.0, high=high, default=0.0)

    def _number(self, row: Table, key: str, *, where: str, low: float, high: float, default: float) -> float:
        value = row.get(key, default)
        if not is_number(value) or not low <= value <= high:
            self._fault(f"{where}{key}", f"is {value!r}", f"write a number from {low:g} to {high:g}")
            return default
        return float(value)

    def _parsed(self, parse: Callable[[_Value], _Result], value: _Value, *, key: str) -> _Result | None:
        try:
            return parse(value)
        except ParameterError as error:
            says = f"{key}: {error.says}" if key else error.says
            self._problems.append(RoomirError(says, code=error.code, remedy=error.remedy))
            return None

    def _know(self, row: Table, keys: set[str], *, where: str) -> None:
        for key in sorted(set(row) - keys):
            self._fault(f"{where}{key}", "is not known here", f"the keys are {', '.join(sorted(keys))}")

    def _fault(self, key: str, what: str, remedy: str) -> None:
        self._problems.append(RoomirError(f"{key} {what}", code="bad-room", remedy=remedy))
