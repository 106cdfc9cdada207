"""A reading against a target: inside, too long, too short, or undecided."""

from __future__ import annotations

from dataclasses import dataclass

from roomir.bands.band import Band
from roomir.reading.reading import Interval, Reading
from roomir.remarks import Remark
from roomir.rooms.targets import Limits, Target

AIMS = ("inside", "too long", "too short", "undecided", "no answer")


@dataclass(frozen=True, slots=True, kw_only=True)
class BandAim:
    """One band against a target.

    Attributes
    ----------
    band : Band
        The band.
    limits : Limits
        What it has to keep within.
    decay_time_s : float or None
        What was read. [s]
    ci95_s : (float, float) or None
        Its 95 % interval, which decides. [s]
    verdict : str
        One of `AIMS`: ``"undecided"`` where the interval reaches across a
        limit, ``"no answer"`` where the reading is unusable.
    off_s : float or None
        How far beyond the limit it is, above zero for too long and below for too short. [s]
    """

    band: Band
    limits: Limits
    decay_time_s: float | None
    ci95_s: Interval | None
    verdict: str
    off_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """A reading against a target; bands of which the target does not speak are left out."""

    target: Target
    volume_m3: float | None
    bands: tuple[BandAim, ...]
    remarks: tuple[Remark, ...]


def aim_at(target: Target, reading: Reading, *, volume_m3: float | None) -> Aim:
    """Hold a reading against a target.

    Parameters
    ----------
    target : Target
        What to aim for.
    reading : Reading
        The room as it is.
    volume_m3 : float or None
        Volume of the room. [m3]

    Returns
    -------
    Aim
        With a verdict for every band that the target speaks of.

    Raises
    ------
    ParameterError
        ``target-needs-volume``.
    """
    target.time_s(volume_m3=volume_m3)  # says so even where no band was read
    bands = []
    for room_band in reading.bands:
        figures = room_band.figures
        limits = target.limits(figures.band, volume_m3=volume_m3)
        if limits is None:
            continue
        usable = figures.verdict != "unusable"
        verdict = _verdict(limits, interval=figures.ci95_s if usable else None)
        bands.append(
            BandAim(
                band=figures.band,
                limits=limits,
                decay_time_s=figures.decay_time_s,
                ci95_s=figures.ci95_s,
                verdict=verdict,
                off_s=_off(limits, time_s=figures.decay_time_s, verdict=verdict),
            )
        )
    return Aim(
        target=target, volume_m3=volume_m3, bands=tuple(bands), remarks=_remarks(target, volume_m3=volume_m3)
    )


def _verdict(limits: Limits, *, interval: Interval | None) -> str:
    if interval is None:
        return "no answer"
    low, high = interval
    if limits.most_s is not None and low > limits.most_s:
        return "too long"
    if limits.least_s is not None and high < limits.least_s:
        return "too short"
    above_least = limits.least_s is None or low >= limits.least_s
    below_most = limits.most_s is None or high <= limits.most_s
    return "inside" if above_least and below_most else "undecided"


def _off(limits: Limits, *, time_s: float | None, verdict: str) -> float | None:
    limit = {"too long": limits.most_s, "too short": limits.least_s}.get(verdict)
    return None if limit is None or time_s is None else time_s - limit


def _remarks(target: Target, *, volume_m3: float | None) -> tuple[Remark, ...]:
    if target.volume_m3 is None or volume_m3 is None:
        return ()
    low, high = target.volume_m3
    if low <= volume_m3 <= high:
        return ()
    return (
        Remark(
            code="target-for-other-volumes",
            says=f"{target.name} is meant for rooms of {low:g} to {high:g} m3; this one has {volume_m3:.4g}",
            remedy="take its figures as a hint",
        ),
    )
