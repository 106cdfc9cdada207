"""What to do next for a better reading: the remedies at hand, most useful first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from roomir.reading.reading import Reading
from roomir.remarks import Remark
from roomir.report.wording import band_name, counted

MOST_STEPS = 4
"""More than this is a list nobody works through."""

BAND_WEIGHTS = {63.0: 0.5, 500.0: 2.0, 1000.0: 2.0, 8000.0: 0.5}
"""What a band counts for: speech and music lean on the middle; a clap hardly reaches 63 Hz anyway."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do, the bands that gain by it (empty: all of them), and the remark behind it."""

    do: str
    bands: tuple[str, ...] = ()
    code: str = ""
    weight: float = 0.0


@dataclass(slots=True)
class _Candidate:
    remark: Remark
    weight: float = 0.0
    worst: float = 0.0
    bands: tuple[str, ...] = ()

    def add(self, remark: Remark, *, weight: float, band: str | None) -> None:
        self.weight += weight
        if weight > self.worst:
            self.remark, self.worst = remark, weight
        if band is not None and band not in self.bands:
            self.bands = (*self.bands, band)


def next_steps(reading: Reading) -> tuple[Step, ...]:
    """Keep the few remedies that matter most.

    Parameters
    ----------
    reading : Reading
        With or without bands.

    Returns
    -------
    tuple of Step
        At most `MOST_STEPS`, the most useful first; empty where nothing is left to do.
    """
    return ranked_steps(reading)[:MOST_STEPS]


def ranked_steps(reading: Reading) -> tuple[Step, ...]:
    """Rank the remedies of a reading's remarks.

    Faults of the recording come first, because they spoil every band. Then
    counts how many bands a remedy lifts, mid bands and unusable bands
    twice, the outermost half. Remarks of one
    code are one step, in the words of the worst band.

    Parameters
    ----------
    reading : Reading
        With or without bands.

    Returns
    -------
    tuple of Step
        The most useful first.
    """
    found: dict[str, _Candidate] = {}

    def note(remark: Remark, *, weight: float, band: str | None = None) -> None:
        if remark.remedy:
            found.setdefault(remark.code, _Candidate(remark)).add(remark, weight=weight, band=band)

    for take in reading.takes:
        for remark in take.concerns:
            note(remark, weight=100.0)
        for clap in take.claps:
            # A clap that was left out for its fault costs no band anything.
            costs = clap.used or not any(c.used for c in take.claps)
            for remark in clap.concerns:
                note(remark, weight=20.0 if costs else 0.5)
            if clap.set_aside_because is not None and not any(c.used for c in take.claps):
                note(clap.set_aside_because, weight=50.0)
    for room_band in reading.bands:
        figures = room_band.figures
        if figures.verdict == "reliable":
            continue  # what it lacks, such as T30, nobody has to work for
        weight = BAND_WEIGHTS.get(figures.band.nominal_hz, 1.0)
        weight *= 2.0 if figures.verdict == "unusable" else 1.0
        for remark in figures.reasons:
            note(remark, weight=weight, band=band_name(figures.band.nominal_hz))

    # Here and not above: it comes with numpy, which `roomir --help` does without.
    from roomir.decay.combine import LEAST_SPOTS

    spots = max((room_band.spots for room_band in reading.bands), default=0)
    if 0 < spots < LEAST_SPOTS:
        # It says how many more, where the bands only ask for more.
        found.pop("interval-too-wide", None)
        note(_more_spots(spots, enough=LEAST_SPOTS), weight=8.0)
    return _ranked(found.values(), n_bands=len(reading.bands))


def _ranked(candidates: Iterable[_Candidate], *, n_bands: int) -> tuple[Step, ...]:
    merged: dict[str, _Candidate] = {}
    for one in candidates:
        # Several codes may call for the same thing; it is one step, as weighty as its weightiest reason.
        same = merged.setdefault(one.remark.remedy, one)
        same.weight = max(same.weight, one.weight)
        same.bands = tuple(dict.fromkeys((*same.bands, *one.bands)))
    ranked = sorted(merged.values(), key=lambda candidate: -candidate.weight)
    return tuple(
        Step(
            do=one.remark.remedy,
            bands=one.bands if len(one.bands) < n_bands else (),
            code=one.remark.code,
            weight=one.weight,
        )
        for one in ranked
    )


def _more_spots(spots: int, *, enough: int) -> Remark:
    which = counted(enough - spots, "more spot")
    return Remark(
        code="few-spots",
        says=f"the interval rests on {counted(spots, 'spot')}",
        remedy=(
            f"clap in {which} at least two metres apart, one recording each:"
            f" from {counted(enough, 'spot')} on the room itself shows how much it differs from place"
            " to place"
        ),
    )
