"""Parameters of a fault: drawn within stated ranges, one range for tuning and one for the exam."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

Range = tuple[float, float]


@dataclass(slots=True, kw_only=True)
class Draw:
    """A source of chance that keeps what it gave.

    Attributes
    ----------
    rng : numpy.random.Generator
        Source of all chance.
    exam : bool
        Whether the exam's ranges hold. They are wider than those for tuning, or lie beside them.
    values : dict
        Every parameter drawn so far, by name.
    """

    rng: np.random.Generator
    exam: bool
    values: dict[str, Any] = field(default_factory=dict)

    def evenly(self, name: str, *, dev: Range, exam: Range) -> float:
        """Draw evenly."""
        return self._kept(name, float(self.rng.uniform(*(exam if self.exam else dev))))

    def evenly_in_log(self, name: str, *, dev: Range, exam: Range) -> float:
        """Draw evenly in the logarithm."""
        low, high = exam if self.exam else dev
        return self._kept(name, float(np.exp(self.rng.uniform(np.log(low), np.log(high)))))

    def one_of(self, name: str, *, dev: Sequence[Any], exam: Sequence[Any]) -> Any:
        """Draw one of several."""
        choice = exam if self.exam else dev
        return self._kept(name, choice[int(self.rng.integers(len(choice)))])

    def happens(self, name: str, *, chance: float) -> bool:
        """Draw yes or no."""
        return bool(self._kept(name, bool(self.rng.random() < chance)))

    def _kept(self, name: str, value: Any) -> Any:
        self.values[name] = round(value, 4) if isinstance(value, float) else value
        return value
