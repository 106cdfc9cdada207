"""From readings to what the planner can use: a stage to learn from, or a room described by nothing else."""

from __future__ import annotations

import math
from dataclasses import replace

from roomir.bands.band import OCTAVES
from roomir.errors import ParameterError, RoomirError
from roomir.plan.model import StageReading
from roomir.reading.reading import Reading
from roomir.remarks import Remark
from roomir.rooms.air import air_attenuation_db_per_m, energy_attenuation_per_m
from roomir.rooms.description import Patch, Room, Surface
from roomir.rooms.new_room import WALLS
from roomir.rooms.statistics import sabine_decay_time_s, sound_speed_m_per_s

_Z95 = 1.959964
_WITHOUT_INTERVAL = 0.1
_GUESSED = 0.3
"""Spread of a coefficient that was taken from the neighbouring octave: own choice."""

AS_READ = "as read"
"""What a surface is made of of which only the decay time of its room is known."""


def stage_reading(reading: Reading, *, name: str) -> StageReading:
    """Take what can be learnt from a reading: octaves that are usable, with their uncertainty.

    Parameters
    ----------
    reading : Reading
        In octaves.
    name : str
        What to call the stage.

    Returns
    -------
    StageReading
        The interval for the room gives the uncertainty.

    Raises
    ------
    RoomirError
        ``nothing-to-learn`` if no octave is usable.
    """
    index = {band.nominal_hz: i for i, band in enumerate(OCTAVES)}
    found, bends = {}, {}
    for one in reading.bands:
        figures = one.figures
        i = index.get(figures.band.nominal_hz)
        if (
            i is None
            or figures.band.fraction != 1
            or figures.decay_time_s is None
            or figures.verdict == "unusable"
        ):
            continue
        share = _WITHOUT_INTERVAL
        if figures.ci95_s is not None and figures.ci95_s[0] > 0.0:
            share = math.log(figures.ci95_s[1] / figures.ci95_s[0]) / (2.0 * _Z95)
        found[i] = (figures.decay_time_s, share)
        if figures.curvature_percent is not None and figures.bt:
            # Chance of T20 (ISO 3382-2:2008, clause 7), as if T30 had nothing to do with it.
            chance = 0.88 / math.sqrt(max(one.spots, 1) * figures.bt)
            bends[i] = (math.log1p(figures.curvature_percent / 100.0), chance)
    if not found:
        raise RoomirError(
            f"the reading of {name} has no usable octave",
            code="nothing-to-learn",
            remedy="read the room with more range; third octaves are not learnt from",
        )
    return StageReading(name=name, decay_time_s=found, bend=bends)


def room_as_read(
    stage: StageReading,
    *,
    name: str,
    dimensions_m: tuple[float, float, float] | None,
    temperature_c: float = 20.0,
    humidity_percent: float = 50.0,
) -> Room:
    """Describe a box by its decay times alone: every surface absorbs what all of them do in the mean.

    Parameters
    ----------
    stage : StageReading
        What was read.
    name : str
        Of the room.
    dimensions_m : (float, float, float) or None
        Length, width, height. [m]
    temperature_c, humidity_percent : float
        Climate. [degC, %]

    Returns
    -------
    Room
        Whose mean coefficients give the decay times after Eyring; octaves
        that were not read take their neighbour's and are said to.

    Raises
    ------
    ParameterError
        ``no-dimensions`` if they are not known.
    """
    if dimensions_m is None:
        raise ParameterError(
            f"nobody has told the dimensions of {name}",
            code="no-dimensions",
            remedy="give them to the logbook, or describe the room with `roomir room new`",
        )
    length_m, width_m, height_m = dimensions_m
    volume_m3 = math.prod(dimensions_m)
    pairs = {"x": width_m * height_m, "y": length_m * height_m, "z": length_m * width_m}
    surface_m2 = 2.0 * sum(pairs.values())
    sound_speed = sound_speed_m_per_s(temperature_c=temperature_c)
    alpha: list[float | None] = [None] * len(OCTAVES)
    spread: list[float | None] = [None] * len(OCTAVES)
    for i, (time_s, share) in stage.decay_time_s.items():
        air = (
            4.0
            * volume_m3
            * energy_attenuation_per_m(
                air_attenuation_db_per_m(
                    OCTAVES[i].exact_hz, temperature_c=temperature_c, humidity_percent=humidity_percent
                )
            )
        )
        # Sabine's formula at an area of one gives the constant over the area.
        area_m2 = sabine_decay_time_s(volume_m3=volume_m3, absorption_area_m2=time_s, sound_speed=sound_speed)
        alpha[i] = -math.expm1(-max(area_m2 - air, 1e-3) / surface_m2)
        spread[i] = share
    guessed = _fill(alpha, spread)
    patch = Patch(area_m2=1.0, material=AS_READ, alpha=tuple(alpha), log_spread=tuple(spread))
    shapes = [*((wall, axis) for wall, axis in WALLS), ("floor", "z"), ("ceiling", "z")]
    surfaces = tuple(
        Surface(name=wall, area_m2=pairs[axis], facing=axis, patches=(replace(patch, area_m2=pairs[axis]),))
        for wall, axis in shapes
    )
    remarks = [
        Remark(
            code="surfaces-as-read",
            says="what the surfaces are made of is not known, so each is taken to absorb the mean of all",
            remedy="describe the room in a file and learn from its reading with --learn-from",
        )
    ]
    if guessed:
        names = ", ".join(f"{OCTAVES[i].nominal_hz:g} Hz" for i in guessed)
        remarks.append(
            Remark(
                code="octaves-guessed",
                says=f"{names} could not be read; the nearest octave's absorption is taken there",
                remedy="read the room again with more range",
            )
        )
    return Room(
        name=name,
        volume_m3=volume_m3,
        dimensions_m=dimensions_m,
        temperature_c=temperature_c,
        humidity_percent=humidity_percent,
        surfaces=surfaces,
        remarks=tuple(remarks),
    )


def _fill(alpha: list[float | None], spread: list[float | None]) -> list[int]:
    """Give the six octaves of the planner a value from their nearest neighbour, in place; tell which."""
    known = [i for i, value in enumerate(alpha) if value is not None]
    guessed = [i for i in range(1, 7) if alpha[i] is None]
    for i in guessed:
        nearest = min(known, key=lambda k: abs(k - i))
        alpha[i], spread[i] = alpha[nearest], _GUESSED
    return guessed
