"""What surfaces absorb: the table that comes with roomir, and the user's own in the same form.

Every row has a mounting and a source; there is no default for a fact.
"""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from roomir.errors import ParameterError, RoomirError
from roomir.rooms.material_names import Synonyms, other_names, parse_synonyms, squeezed, wanted

PLAN_HZ = (63, 125, 250, 500, 1000, 2000, 4000, 8000)
"""Nominal octaves of the planner; tables always give the middle six."""

SIX_HZ = PLAN_HZ[1:7]
"""Nominal octaves that every table gives."""

Octaves = tuple[float | None, ...]
"""One value for each of the eight octaves; ``None`` where a source gives none."""

LAB_SPREAD = 0.10
"""Standard deviation of ln(alpha) between laboratories and mountings.

Coefficients for one material differ by up to 0.15 between laboratories (a
data note of a trade body), which is two standard deviations of 10 % at 0.75.
"""

LEAST_SPREAD = 0.01
"""Standard deviation of alpha that is always there: tables give two decimals, and hard walls differ."""


class BadFileError(RoomirError):
    """A file that describes something wrongly; each problem is a line with its key and remedy."""

    def __init__(self, problems: Iterable[RoomirError], *, name: str) -> None:
        first, *others = problems
        super().__init__(f"{name}: {first.says}", code=first.code, remedy=first.remedy)
        self.others = tuple(
            RoomirError(f"{name}: {one.says}", code=one.code, remedy=one.remedy) for one in others
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """What a material that can be hung as a panel needs.

    Attributes
    ----------
    kind : str
        How it works: ``"porous"``, ``"foam"``, ``"membrane"``, ``"perforated"``, ``"slotted"``,
        ``"curtain"``, ``"carpet"`` or ``"reversible"``.
    area_m2 : float
        Area of one panel. [m2]
    thickness_mm : float
        From the wall to its front, air included. [mm]
    weight_kg_per_m2 : float
        Without frame and fixings. [kg/m2]
    price_per_m2 : float or None
        In whatever currency the user reckons; the table that comes with roomir has no prices.
    reverse : str or None
        Name of the material that the same panel is when turned round.
    """

    kind: str
    area_m2: float
    thickness_mm: float
    weight_kg_per_m2: float
    price_per_m2: float | None = None
    reverse: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """One row of a table of absorption coefficients.

    Attributes
    ----------
    name : str
        Generic name.
    alpha : Octaves
        Random-incidence absorption coefficient per octave, or the absorption
        area of one piece where ``each`` is set [m2].
    mounting : str
        How it is fixed, which decides the bass.
    source : str
        Standard, book, paper or table.
    low, high : Octaves or None
        Range over sources.
    each : bool
        Whether ``alpha`` is an area per piece.
    own : bool
        Whether it comes from a file of the user's.
    panel : Panel or None
        There where it may be proposed as a panel.
    """

    name: str
    alpha: Octaves
    mounting: str
    source: str
    low: Octaves | None = None
    high: Octaves | None = None
    each: bool = False
    own: bool = False
    panel: Panel | None = None

    @property
    def log_spread(self) -> Octaves:
        """Standard deviation of the natural logarithm of ``alpha`` per octave."""
        low, high = self.low or (None,) * 8, self.high or (None,) * 8
        return tuple(
            None if a is None else log_spread(a, low=lo, high=hi)
            for a, lo, hi in zip(self.alpha, low, high, strict=True)
        )


def log_spread(alpha: float, *, low: float | None = None, high: float | None = None) -> float:
    """Spread of a coefficient as the standard deviation of its logarithm.

    Parameters
    ----------
    alpha : float
        The coefficient (or area per piece), 0 or more.
    low, high : float, optional
        Range over the sources, taken as plus and minus one standard deviation.

    Returns
    -------
    float
        From `LAB_SPREAD`, `LEAST_SPREAD` and the range; 0 for a coefficient of 0.

    Examples
    --------
    >>> round(log_spread(0.8), 3), round(log_spread(0.02), 3)
    (0.101, 0.51)
    >>> round(log_spread(0.29, low=0.10, high=0.30), 3)
    0.549
    """
    if alpha <= 0.0:
        return 0.0
    of_laboratories = math.hypot(LAB_SPREAD, LEAST_SPREAD / alpha)
    of_sources = 0.5 * math.log(high / low) if low and high else 0.0
    return max(of_laboratories, of_sources)


@dataclass(frozen=True, slots=True)
class Materials:
    """A table of materials, looked up by name."""

    rows: Mapping[str, Material]
    synonyms: Synonyms = ()

    def __iter__(self) -> Any:  # noqa: ANN401
        return iter(self.rows.values())

    def __len__(self) -> int:
        return len(self.rows)

    def get(self, name: str) -> Material:
        """Look a material up, whatever the case, spaces, hyphens and commas, and under other words for it.

        Raises
        ------
        ParameterError
            If there is none; the nearest names are in the remedy.
        """
        keys = (squeezed(name), *other_names(name, self.synonyms))
        found = next((self.rows[key] for key in keys if key in self.rows), None)
        if found is None:
            near = [row.name for row in self.find([name])[:3]]
            near = near or [
                self.rows[one].name for one in difflib.get_close_matches(keys[0], self.rows, n=3, cutoff=0.4)
            ]
            names = "; ".join(near)
            raise ParameterError(
                f'there is no material called "{name}"',
                code="no-such-material",
                remedy=(f"did you mean: {names}? " if names else "")
                + "`roomir materials` lists all; give alpha = [six values] or a file of your own instead",
            )
        return found

    def __contains__(self, name: str) -> bool:
        return squeezed(name) in self.rows

    def find(self, words: Iterable[str]) -> list[Material]:
        """Find rows whose name, mounting or source has every word, or another one for it."""
        needed = wanted(list(words), self.synonyms)
        return [
            row
            for row in self
            if all(one.search(f"{row.name} {row.mounting} {row.source}".casefold()) for one in needed)
        ]

    def with_own(self, others: Iterable[Material], *, synonyms: Synonyms = ()) -> Materials:
        """Add or replace rows."""
        rows = {**self.rows, **{squeezed(one.name): one for one in others}}
        return Materials(rows, synonyms=(*self.synonyms, *synonyms))


@lru_cache(maxsize=1)
def standard_materials() -> Materials:
    """Load the table that comes with roomir.

    Examples
    --------
    >>> standard_materials().get("Wood floor on joists").alpha[1:7]
    (0.15, 0.11, 0.1, 0.07, 0.06, 0.07)
    """
    path = Path(__file__).with_name("materials.toml")
    return _over(Materials({}), path.read_text("utf-8"), name=path.name, own=False)


def _over(table: Materials, text: str, *, name: str, own: bool) -> Materials:
    rows = parse_materials(text, name=name, own=own)
    whole = table.with_own(rows, synonyms=parse_synonyms(parse_toml(text, name=name).get("synonyms")))
    lost: list[RoomirError] = []
    for i, row in enumerate(rows, start=1):
        if row.panel is not None and row.panel.reverse is not None:
            try:
                whole.get(row.panel.reverse)
            except ParameterError as error:
                says = f"materials[{i}].reverse: {error.says}"
                lost.append(RoomirError(says, code=error.code, remedy=error.remedy))
    if lost:
        raise BadFileError(lost, name=name)
    return whole


def load_materials(path: Path | None = None) -> Materials:
    """Load the table that comes with roomir, and the user's own over it.

    Parameters
    ----------
    path : Path, optional
        A file of the same form; its rows are marked as the user's own and
        come before rows of the same name.

    Raises
    ------
    RoomirError
        If the file cannot be read, or a row is wrong.
    """
    if path is None:
        return standard_materials()
    return _over(standard_materials(), read_text(path), name=path.name, own=True)


def read_text(path: Path) -> str:
    """Read a text file, or say in one line why not.

    Raises
    ------
    RoomirError
        If it is missing, no text, or may not be read.
    """
    try:
        return path.read_text("utf-8")
    except FileNotFoundError as error:
        raise RoomirError(
            f"{path} is not there", code="no-such-file", remedy="check the spelling and the folder"
        ) from error
    except (OSError, ValueError) as error:
        what = getattr(error, "strerror", None) or "it is no text"
        raise RoomirError(
            f"{path} cannot be read: {what}", code="unreadable-file", remedy="name a TOML file in UTF-8"
        ) from error


def parse_toml(text: str, *, name: str) -> dict[str, Any]:
    """Parse TOML, or say in one line what is wrong with it.

    Raises
    ------
    RoomirError
        If the text is no TOML.
    """
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise RoomirError(
            f"{name} is no TOML: {error}",
            code="bad-toml",
            remedy='texts stand in "quotes", lists in [brackets], and each [[table]] on a line of its own',
        ) from error


_REQUIRED = ("name", "alpha", "mounting", "source")
_NUMBERS = ("thickness_mm", "weight_kg_per_m2", "panel_m2", "price_per_m2")
_KEYS = {*_REQUIRED, *_NUMBERS, "alpha_63hz", "alpha_8khz", "low", "high", "each", "kind", "reverse"}


def parse_materials(text: str, *, name: str, own: bool) -> list[Material]:
    """Make materials of the text of a file.

    Parameters
    ----------
    text : str
        TOML with tables ``[[materials]]``.
    name : str
        What the file is called, for its faults.
    own : bool
        Whether it is the user's.

    Raises
    ------
    BadFileError
        With every fault in it, each naming its key.
    """
    rows = parse_toml(text, name=name).get("materials", [])
    problems: list[RoomirError] = []
    found: list[Material] = []
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        problems.append(
            RoomirError("there are no [[materials]] in it", code="bad-material", remedy="begin each row so")
        )
        rows = []
    for i, row in enumerate(rows, start=1):
        try:
            found.append(_material(row, where=f"materials[{i}]", own=own))
        except RoomirError as error:
            problems.append(error)
    if problems:
        raise BadFileError(problems, name=name)
    return found


def _material(row: dict[str, Any], *, where: str, own: bool) -> Material:
    def bad(key: str, what: str, remedy: str) -> ParameterError:
        return ParameterError(f"{where}.{key} {what}", code="bad-material", remedy=remedy)

    for key in _REQUIRED:
        if not row.get(key):
            raise bad(key, "is missing", f"every material needs {', '.join(_REQUIRED)}")
    if unknown := set(row) - _KEYS:
        raise bad(min(unknown), "is no key of a material", f"the keys are {', '.join(sorted(_KEYS))}")
    for key in ("name", "mounting", "source"):
        if not isinstance(row[key], str):
            raise bad(key, "is no text", 'write it in "quotes"')
    if not isinstance(row.get("reverse", ""), str):
        raise bad("reverse", "is no text", "write the name of the material that is its other side")
    each = bool(row.get("each", False))
    alpha = six_values(row["alpha"], key=f"{where}.alpha", most=50.0 if each else 1.2)
    ends = [
        six_values(row[key], key=f"{where}.{key}", most=50.0 if each else 1.2) if key in row else None
        for key in ("low", "high")
    ]
    outer = [row.get(key) for key in ("alpha_63hz", "alpha_8khz")]
    for key, value in [("alpha_63hz", outer[0]), ("alpha_8khz", outer[1])] + [
        (k, row.get(k)) for k in _NUMBERS
    ]:
        if value is not None and not (is_number(value) and value >= 0.0):
            raise bad(key, f"is {value!r}, no number from 0 up", "write a number such as 0.5")
    panel = None
    if "panel_m2" in row:
        for key in ("kind", "thickness_mm", "weight_kg_per_m2"):
            if key not in row:
                raise bad(key, "is missing", "a panel needs kind, thickness_mm and weight_kg_per_m2 as well")
        panel = Panel(
            kind=str(row["kind"]),
            area_m2=float(row["panel_m2"]),
            thickness_mm=float(row["thickness_mm"]),
            weight_kg_per_m2=float(row["weight_kg_per_m2"]),
            price_per_m2=None if row.get("price_per_m2") is None else float(row["price_per_m2"]),
            reverse=row.get("reverse"),
        )
        if not panel.area_m2 > 0.0:
            raise bad("panel_m2", "is not positive", "write the area of one panel in m2")

    def octaves(six: tuple[float, ...] | None) -> Octaves | None:
        if six is None:
            return None
        return (
            None if outer[0] is None else float(outer[0]),
            *six,
            None if outer[1] is None else float(outer[1]),
        )

    values = octaves(alpha)
    assert values is not None
    return Material(
        name=row["name"],
        alpha=values,
        mounting=row["mounting"],
        source=row["source"],
        low=octaves(ends[0]),
        high=octaves(ends[1]),
        each=each,
        own=own,
        panel=panel,
    )


def is_number(value: object) -> bool:
    """Whether a value from a file is a finite number (a truth value is none)."""
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def six_values(value: object, *, key: str, most: float = 1.2) -> tuple[float, ...]:
    """Take six coefficients for 125 Hz to 4 kHz from a file.

    Raises
    ------
    ParameterError
        If they are not six numbers from 0 to ``most``.

    Examples
    --------
    >>> six_values([0.1, 0.1, 0.1, 0.1, 0.1, 0.1], key="alpha")
    (0.1, 0.1, 0.1, 0.1, 0.1, 0.1)
    """
    remedy = "write six values for 125 Hz, 250 Hz, 500 Hz, 1 kHz, 2 kHz and 4 kHz, such as 0.15"
    if not isinstance(value, list) or len(value) != len(SIX_HZ):
        n = f"has {len(value)} values" if isinstance(value, list) else "is no list"
        raise ParameterError(f"{key} {n}", code="bad-absorption", remedy=remedy)
    for one in value:
        if not (is_number(one) and 0.0 <= one <= most):
            raise ParameterError(
                f"{key} holds {one!r}, which is outside 0 to {most:g}", code="bad-absorption", remedy=remedy
            )
    return tuple(float(one) for one in value)
