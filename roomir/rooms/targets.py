"""Decay times to aim for: published ones, common practice, or the builder's own.

The list is data, in ``targets.toml`` beside this module; a file of one's own
has the same keys.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from roomir.bands.band import Band
from roomir.errors import ParameterError

COMMON_PRACTICE = "common practice, no source"
"""Stands as the source of what everybody says and nobody published."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one band has to keep within; ``None`` where there is no limit. [s]"""

    least_s: float | None
    most_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A decay time to aim for.

    Attributes
    ----------
    name : str
        What to call it.
    use : str
        What kind of room it is for.
    source : str
        Author, title and clause, or `COMMON_PRACTICE`.
    kind : str
        ``"range_s"``, ``"time_s"``, ``"cube_root_s"`` or ``"log_s"``: how the figures are to be taken.
    figures : tuple of float or None
        They. [s]
    clamp_s : (float, float) or None
        Limits to the outcome of a formula. [s]
    volume_m3 : (float, float) or None
        Volumes that it is meant for. [m3]
    bands_hz : (float, float)
        Nominal frequencies of the lowest and the highest octave that it is meant for. [Hz]
    mask_hz : tuple of float
        Points of the mask; empty where there is none. [Hz]
    below, above : tuple of float
        Least and most at those points: seconds apart from the time, or factors of it.
    mask_is_factor : bool
        Which of the two.
    """

    name: str
    use: str
    source: str
    kind: str
    figures: tuple[float | None, ...]
    clamp_s: tuple[float, float] | None
    volume_m3: tuple[float, float] | None
    bands_hz: tuple[float, float]
    mask_hz: tuple[float, ...]
    below: tuple[float, ...]
    above: tuple[float, ...]
    mask_is_factor: bool

    @property
    def needs_volume(self) -> bool:
        """Whether it depends on the volume of the room."""
        return self.kind in ("cube_root_s", "log_s")

    @property
    def is_common_practice(self) -> bool:
        """Whether nobody published it."""
        return self.source == COMMON_PRACTICE

    def time_s(self, *, volume_m3: float | None) -> float | None:
        """Give the one figure before the mask; ``None`` where the target is a range. [s].

        Raises
        ------
        ParameterError
            ``target-needs-volume``, or ``target-has-no-time`` where the formula gives none.
        """
        if self.kind == "range_s":
            return None
        first = self.figures[0]
        assert first is not None
        if not self.needs_volume:
            return first
        if volume_m3 is None:
            raise ParameterError(
                f"the target {self.name} depends on the volume of the room",
                code="target-needs-volume",
                remedy="give --volume or --dimensions",
            )
        if self.kind == "cube_root_s":
            time_s = first * math.cbrt(volume_m3 / 100.0)
        else:
            time_s = first * math.log10(volume_m3) + (self.figures[1] or 0.0)
        if self.clamp_s is not None:
            time_s = min(max(time_s, self.clamp_s[0]), self.clamp_s[1])
        if time_s <= 0.0:
            raise ParameterError(
                f"the target {self.name} has no decay time for {volume_m3:g} m3",
                code="target-has-no-time",
                remedy="choose a target for small rooms",
            )
        return time_s

    def limits(self, band: Band, *, volume_m3: float | None) -> Limits | None:
        """Give what a band has to keep within.

        Parameters
        ----------
        band : Band
            The band.
        volume_m3 : float or None
            Volume of the room. [m3]

        Returns
        -------
        Limits or None
            None where the target does not speak of this band.

        Raises
        ------
        ParameterError
            ``target-needs-volume``.
        """
        # A third at the edge of the lowest or the highest octave still belongs to it.
        if not self.bands_hz[0] / math.sqrt(2.0) < band.exact_hz < self.bands_hz[1] * math.sqrt(2.0):
            return None
        time_s = self.time_s(volume_m3=volume_m3)
        if time_s is None:
            return Limits(least_s=self.figures[0], most_s=self.figures[1])
        below, above = (
            _over_log(band.nominal_hz, self.mask_hz, values) for values in (self.below, self.above)
        )
        if self.mask_is_factor:
            return Limits(least_s=below * time_s, most_s=above * time_s)
        return Limits(least_s=max(time_s - below, 0.0), most_s=time_s + above)


def _over_log(frequency_hz: float, points_hz: Sequence[float], values: Sequence[float]) -> float:
    if frequency_hz <= points_hz[0]:
        return values[0]
    for i in range(1, len(points_hz)):
        if frequency_hz <= points_hz[i]:
            part = math.log(frequency_hz / points_hz[i - 1]) / math.log(points_hz[i] / points_hz[i - 1])
            return values[i - 1] + part * (values[i] - values[i - 1])
    return values[-1]


# ------------------------------------------------------------------ finding one


@cache
def known_targets() -> tuple[Target, ...]:
    """List the targets that roomir brings, in the order of ``targets.toml``."""
    text = files("roomir.rooms").joinpath("targets.toml").read_text("utf-8")
    return tuple(_target(one, where="targets.toml") for one in tomllib.loads(text)["target"])


_RANGE = re.compile(r"\s*(\d*[.,]?\d+)\s*(?:-|\u2013|to)\s*(\d*[.,]?\d+)\s*(?:s|seconds)?\s*")


def find_target(text: str) -> Target:
    """Find the target that is meant.

    Parameters
    ----------
    text : str
        A name (case, spaces, hyphens, underscores and dots do not matter),
        a range in seconds such as ``0.2-0.3``, or a TOML file.

    Returns
    -------
    Target
        It.

    Raises
    ------
    ParameterError
        ``unknown-target`` with the list, or ``bad-target`` for a range or a file that is none.

    Examples
    --------
    >>> find_target("Voice-Booth").figures, find_target("0.2-0.3").figures
    ((0.1, 0.3), (0.2, 0.3))
    """
    wanted = _plain(text)
    for target in known_targets():
        if _plain(target.name) == wanted:
            return target
    if found := _RANGE.fullmatch(text):
        least_s, most_s = (float(end.replace(",", ".")) for end in found.groups())
        return _own(name=text.strip(), least_s=least_s, most_s=most_s)
    path = Path(text)
    if path.suffix.lower() == ".toml" or path.is_file():
        return _from_file(path)
    names = ", ".join(target.name for target in known_targets())
    raise ParameterError(
        f'there is no target called "{text}"',
        code="unknown-target",
        remedy=f"choose one of {names}; or write seconds as in 0.2-0.3, or name a TOML file",
    )


def _plain(text: str) -> str:
    return re.sub(r"[\s\-_.]+", "", text.casefold())


def _own(*, name: str, least_s: float, most_s: float) -> Target:
    return _target({"name": name, "range_s": [least_s, most_s]}, where=f'"{name}"')


def _from_file(path: Path) -> Target:
    try:
        content = tomllib.loads(path.read_text("utf-8"))
    except (OSError, ValueError) as error:
        raise _bad(str(path), getattr(error, "strerror", None) or str(error)) from error
    listed = content.get("target", content)
    if isinstance(listed, list):
        if len(listed) != 1:
            raise _bad(str(path), f"it holds {len(listed)} targets, and one can be aimed for at a time")
        listed = listed[0]
    if not isinstance(listed, dict):
        raise _bad(str(path), "its target is no table of keys")
    return _target({"name": path.stem, **listed}, where=str(path))


def _bad(where: str, says: str) -> ParameterError:
    return ParameterError(
        f"{where} is no target: {says}",
        code="bad-target",
        remedy="write seconds as in 0.2-0.3, or a file with range_s = [0.2, 0.3]; README has all keys",
    )


_KINDS = ("range_s", "time_s", "cube_root_s", "log_s")
_KNOWN = {
    *("name", "use", "source", "clamp_s", "volume_m3", "bands_hz", "mask_hz", "least_s", "most_s"),
    *("below_s", "above_s", "least_factor", "most_factor"),
    *_KINDS,
}


def _target(content: Mapping[str, Any], *, where: str) -> Target:
    unknown = sorted(set(content) - _KNOWN)
    if unknown:
        raise _bad(where, f"it knows no {', '.join(unknown)}")
    try:
        return _checked(content)
    except (TypeError, ValueError, KeyError, AttributeError) as error:
        raise _bad(where, str(error)) from error


def _checked(content: Mapping[str, Any]) -> Target:
    kind, figures = _figures(content)
    factors = "least_factor" in content
    below = tuple(map(float, content.get("least_factor" if factors else "below_s", ())))
    above = tuple(map(float, content.get("most_factor" if factors else "above_s", ())))
    mask_hz = tuple(map(float, content.get("mask_hz", ())))
    if kind != "range_s" and not mask_hz:
        raise ValueError("a single time needs a mask: mask_hz with below_s and above_s")
    if not len(mask_hz) == len(below) == len(above) or list(mask_hz) != sorted(mask_hz):
        raise ValueError("mask_hz rises, and each of its points has a least and a most")
    return Target(
        name=str(content["name"]),
        use=str(content.get("use", "")),
        source=str(content.get("source", "your own")),
        kind=kind,
        figures=figures,
        clamp_s=_ends(content.get("clamp_s")),
        volume_m3=_ends(content.get("volume_m3")),
        bands_hz=_ends(content.get("bands_hz")) or (1.0, 1e5),
        mask_hz=mask_hz,
        below=below,
        above=above,
        mask_is_factor=factors,
    )


def _figures(content: Mapping[str, Any]) -> tuple[str, tuple[float | None, ...]]:
    kinds = [kind for kind in _KINDS if kind in content]
    ends = [content.get("least_s"), content.get("most_s")]
    if len(kinds) + (ends != [None, None]) != 1:
        raise ValueError(f"it needs one of {', '.join(_KINDS)}")
    if not kinds:
        return "range_s", tuple(map(_second, ends))
    given = content[kinds[0]]
    figures = tuple(map(float, given if isinstance(given, list) else [given]))
    if len(figures) != (2 if kinds[0] in ("range_s", "log_s") else 1):
        raise ValueError(f"{kinds[0]} has {len(figures)} figures")
    if kinds[0] == "range_s" and not 0.0 <= figures[0] < figures[1]:
        raise ValueError("the shorter time comes first")
    return kinds[0], figures


def _second(value: Any) -> float | None:  # noqa: ANN401 - whatever a file holds
    return None if value is None else float(value)


def _ends(value: Any) -> tuple[float, float] | None:  # noqa: ANN401 - whatever a file holds
    if value is None:
        return None
    low, high = value
    if not 0.0 < float(low) < float(high):
        raise ValueError(f"{value} does not rise")
    return float(low), float(high)
