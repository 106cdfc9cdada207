"""Equivalent absorption area added between two states of a room."""

from __future__ import annotations

from collections.abc import Callable

from roomir.bands.band import Band
from roomir.compare.change import Climate
from roomir.compare.difference import Difference, Floats
from roomir.reading.reading import Interval
from roomir.rooms.air import air_attenuation_db_per_m, energy_attenuation_per_m
from roomir.rooms.statistics import DECAY_NEPERS, sound_speed_m_per_s

ASSUMED_C = 20.0
"""Air temperature taken where nobody wrote it down. [degC]"""


def added_absorption(
    difference: Difference, *, band: Band, volume_m3: float, climates: tuple[Climate, Climate]
) -> tuple[float, Interval]:
    r"""Work out the equivalent absorption area that was added.

    Parameters
    ----------
    difference : Difference
        Decay times before and after.
    band : Band
        Its exact midband frequency gives the absorption of the air.
    volume_m3 : float
        Volume V of the room. [m3]
    climates : (Climate, Climate)
        Air before and after. Where the humidity of one side is not known, the
        air is taken to absorb alike on both.

    Returns
    -------
    float
        :math:`55.3\,V (1/(c_2 T_2) - 1/(c_1 T_1)) - 4 V (m_2 - m_1)`
        (ISO 354:2003, 8.1.2 and 8.1.2.1; air by ISO 9613-1:1993). [m2]
    (float, float)
        Its 95 % interval. [m2]
    """
    speed_before, speed_after = (
        sound_speed_m_per_s(temperature_c=ASSUMED_C if one.temperature_c is None else one.temperature_c)
        for one in climates
    )
    air_m2 = 4.0 * volume_m3 * _more_air_per_m(band, climates=climates)

    def area(after_s: Floats, before_s: Floats) -> Floats:
        walls = 1.0 / (speed_after * after_s) - 1.0 / (speed_before * before_s)
        return DECAY_NEPERS * volume_m3 * walls - air_m2

    return _at(area, difference), difference.interval_of(area)


def _at(area: Callable[[Floats, Floats], Floats], difference: Difference) -> float:
    import numpy as np

    return float(area(np.asarray(difference.after_s), np.asarray(difference.before_s)))


def _more_air_per_m(band: Band, *, climates: tuple[Climate, Climate]) -> float:
    """How much more the air absorbed after than before. [1/m]"""
    per_m = []
    for climate in climates:
        if climate.humidity_percent is None:
            return 0.0
        temperature_c = ASSUMED_C if climate.temperature_c is None else climate.temperature_c
        per_m.append(
            energy_attenuation_per_m(
                air_attenuation_db_per_m(
                    band.exact_hz, temperature_c=temperature_c, humidity_percent=climate.humidity_percent
                )
            )
        )
    return per_m[1] - per_m[0]
