"""Which recordings of two states were made in the same position, and what each position says."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from roomir.compare.difference import Difference, of_pairs
from roomir.decay.combine import LEAST_SPOTS
from roomir.reading.reading import RoomBand

_BETWEEN_WORDS = re.compile(r"[\s_\-.,;()\[\]]+")


def names_from_files(stems: Sequence[str]) -> tuple[str, ...]:
    """Name the position of each recording after what tells its file's name from the others.

    Parameters
    ----------
    stems : sequence of str
        Names of the files of one state, without folder and ending.

    Returns
    -------
    tuple of str
        The words that not all of the names share; the whole name of a single file.

    Examples
    --------
    >>> names_from_files(["dairy_1_bare_spot1", "dairy_1_bare_spot2"])
    ('spot1', 'spot2')
    >>> names_from_files(["Door side", "window side"])
    ('door', 'window')
    """
    words = [[word for word in _BETWEEN_WORDS.split(stem.casefold()) if word] for stem in stems]
    shared = set.intersection(*map(set, words)) if len(words) > 1 else set()
    return tuple(
        " ".join(word for word in one if word not in shared) or stem.casefold()
        for one, stem in zip(words, stems, strict=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Matches:
    """Recordings of the same position on both sides.

    Attributes
    ----------
    pairs : tuple of (int, int)
        Places of the recordings in the takes before and after.
    alone : tuple of str
        Names that stand on one side only, or several times on one side.
    """

    pairs: tuple[tuple[int, int], ...]
    alone: tuple[str, ...]


def match(before: Sequence[str | None], after: Sequence[str | None]) -> Matches:
    """Match recordings whose positions bear the same name.

    Parameters
    ----------
    before, after : sequence of str or None
        Name of the position of each take; ``None`` where nobody named it.

    Returns
    -------
    Matches
        A name that several takes of one side bear matches nothing.

    Examples
    --------
    >>> match(["door", "sofa"], ["sofa", "window"])
    Matches(pairs=((1, 0),), alone=('door', 'window'))
    """
    counts = [Counter(name for name in side if name is not None) for side in (before, after)]
    named = sorted(set(counts[0]) | set(counts[1]))
    common = [name for name in named if counts[0][name] == counts[1][name] == 1]
    return Matches(
        pairs=tuple((list(before).index(name), list(after).index(name)) for name in common),
        alone=tuple(name for name in named if name not in common),
    )


def difference_of_pairs(
    before: RoomBand, after: RoomBand, *, pairs: Sequence[tuple[int, int]]
) -> Difference | None:
    """Compare one band position by position.

    Parameters
    ----------
    before, after : RoomBand
        The band on both sides.
    pairs : sequence of (int, int)
        Takes made in the same position.

    Returns
    -------
    Difference or None
        None where fewer than four unrelated positions have a decay time on both sides.
    """
    groups = _unrelated([p for p in pairs if _heard(before, p[0]) and _heard(after, p[1])], before, after)
    if len(groups) < LEAST_SPOTS:
        return None
    times, variances = [], []
    for group in groups:
        here = [_mean(before, {p[0] for p in group}), _mean(after, {p[1] for p in group})]
        times.append([one[0] for one in here])
        variances.append(sum(one[1] for one in here))
    both = np.exp(np.array(times))
    return of_pairs(before_s=both[:, 0], after_s=both[:, 1], u_relative=np.sqrt(np.array(variances)))


def _heard(band: RoomBand, take: int) -> bool:
    return any(take in spot.takes for spot in band.spot_times)


def _unrelated(
    pairs: Sequence[tuple[int, int]], before: RoomBand, after: RoomBand
) -> list[list[tuple[int, int]]]:
    """Put pairs together whose takes proved to be of one spot, so that no spot counts twice."""
    groups: list[list[tuple[int, int]]] = []
    for pair in pairs:
        near = [
            group
            for group in groups
            if any(
                _share_spot(before, pair[0], other[0]) or _share_spot(after, pair[1], other[1])
                for other in group
            )
        ]
        groups = [group for group in groups if group not in near]
        groups.append([pair, *(one for group in near for one in group)])
    return groups


def _share_spot(band: RoomBand, take: int, other: int) -> bool:
    return any(take in spot.takes and other in spot.takes for spot in band.spot_times)


def _mean(band: RoomBand, takes: set[int]) -> tuple[float, float]:
    """Mean log decay time over the spots of some takes, and its variance by theory."""
    spots = [spot for spot in band.spot_times if takes & set(spot.takes)]
    weight = np.array([spot.weight for spot in spots])
    weight /= weight.sum()
    log_time = float(weight @ np.log([spot.decay_time_s for spot in spots]))
    return log_time, float(weight**2 @ np.array([spot.u_relative**2 for spot in spots]))
