"""Room physics without a recording: the statistical formulas of a diffuse field.

All of them take a room as a bag of volume and absorption, which holds above
the Schroeder frequency and while the mean absorption is small; a real box
with unequal walls departs from them. Symbols as in H. Kuttruff, "Room
Acoustics", 6th ed. (CRC Press, 2017), chapter 5.
"""

from __future__ import annotations

import math

from roomir.errors import ParameterError

DECAY_NEPERS = 24.0 * math.log(10.0)
"""4 ln(10^6) = 55.26: volume over c A to the time in which the energy falls by 60 dB."""


def sound_speed_m_per_s(*, temperature_c: float) -> float:
    r"""Speed of sound in air.

    Parameters
    ----------
    temperature_c : float
        Air temperature, above absolute zero. [degC]

    Returns
    -------
    float
        :math:`c = 343.2 \sqrt{T / 293.15}`, T the absolute temperature
        (ISO 9613-1:1993, Annex A). [m/s]

    Examples
    --------
    >>> sound_speed_m_per_s(temperature_c=20.0)
    343.2
    """
    if not temperature_c > -273.15:  # also turns down NaN
        raise ParameterError(f"{temperature_c:g} degC is below absolute zero", code="bad-temperature")
    return 343.2 * math.sqrt((temperature_c + 273.15) / 293.15)


def sabine_decay_time_s(
    *, volume_m3: float, absorption_area_m2: float, sound_speed: float, air_per_m: float = 0.0
) -> float:
    r"""Decay time after Sabine.

    Parameters
    ----------
    volume_m3 : float
        Volume V. [m3]
    absorption_area_m2 : float
        Equivalent absorption area A, the sum of area times coefficient. [m2]
    sound_speed : float
        Speed of sound c. [m/s]
    air_per_m : float, default 0
        Energy attenuation m by the air. [1/m]

    Returns
    -------
    float
        :math:`T = 24 \ln(10)\, V / (c (A + 4 m V))` (ISO 354:2003, 3.6 and
        8.1.2; Kuttruff, "Room Acoustics", chapter 5). [s]

    Raises
    ------
    ParameterError
        If a figure is not positive, or nothing absorbs.

    Examples
    --------
    >>> round(sabine_decay_time_s(volume_m3=60.0, absorption_area_m2=18.8, sound_speed=343.2), 3)
    0.514
    """
    _need_positive(volume_m3=volume_m3, sound_speed=sound_speed)
    area = absorption_area_m2 + 4.0 * air_per_m * volume_m3
    _need_positive(absorption_area_m2=area)
    return DECAY_NEPERS * volume_m3 / (sound_speed * area)


def eyring_decay_time_s(
    *,
    volume_m3: float,
    surface_m2: float,
    mean_absorption: float,
    sound_speed: float,
    air_per_m: float = 0.0,
) -> float:
    r"""Decay time after Norris and Eyring.

    Parameters
    ----------
    volume_m3 : float
        Volume V. [m3]
    surface_m2 : float
        Area S of all surfaces. [m2]
    mean_absorption : float
        Mean absorption coefficient weighted by area, above 0 and below 1
        (0 is allowed where the air absorbs).
    sound_speed : float
        Speed of sound c. [m/s]
    air_per_m : float, default 0
        Energy attenuation m by the air. [1/m]

    Returns
    -------
    float
        :math:`T = 24 \ln(10)\, V / (c (-S \ln(1 - \bar\alpha) + 4 m V))`
        (C. F. Eyring, "Reverberation time in 'dead' rooms", J. Acoust. Soc.
        Am. 1 (1930) 217-241). [s]

    Raises
    ------
    ParameterError
        If a figure is outside its range, or nothing absorbs.

    Examples
    --------
    >>> round(
    ...     eyring_decay_time_s(
    ...         volume_m3=60.0, surface_m2=94.0, mean_absorption=0.2, sound_speed=343.2
    ...     ), 3)
    0.461
    """
    _need_positive(surface_m2=surface_m2)
    if not 0.0 <= mean_absorption < 1.0:
        raise ParameterError(
            f"a mean absorption of {mean_absorption:g} is outside 0 to 1", code="bad-absorption"
        )
    return sabine_decay_time_s(
        volume_m3=volume_m3,
        absorption_area_m2=-surface_m2 * math.log1p(-mean_absorption),
        sound_speed=sound_speed,
        air_per_m=air_per_m,
    )


def schroeder_frequency_hz(*, volume_m3: float, decay_time_s: float) -> float:
    r"""Frequency above which the room's modes overlap and statistics hold.

    Parameters
    ----------
    volume_m3 : float
        Volume V. [m3]
    decay_time_s : float
        Decay time T near that frequency. [s]

    Returns
    -------
    float
        :math:`f_S = 2000 \sqrt{T / V}` in SI units (M. R. Schroeder, "The
        'Schroeder frequency' revisited", J. Acoust. Soc. Am. 99 (1996)
        3240-3241). Below it single modes rule. [Hz]

    Raises
    ------
    ParameterError
        If a figure is not positive.

    Examples
    --------
    >>> schroeder_frequency_hz(volume_m3=20_000.0, decay_time_s=2.0)
    20.0
    """
    _need_positive(volume_m3=volume_m3, decay_time_s=decay_time_s)
    return 2000.0 * math.sqrt(decay_time_s / volume_m3)


def reverberation_distance_m(
    *, volume_m3: float, decay_time_s: float, sound_speed: float, directivity: float
) -> float:
    r"""Distance at which direct and reverberant sound are equally strong.

    Also called the critical distance, or the reverberation radius for a
    source that radiates alike in all directions.

    Parameters
    ----------
    volume_m3 : float
        Volume V. [m3]
    decay_time_s : float
        Decay time T. [s]
    sound_speed : float
        Speed of sound c. [m/s]
    directivity : float
        Directivity factor Q of the source towards the microphone: 1 in all
        directions alike, 2 for a source on a wall or in front of a body.

    Returns
    -------
    float
        :math:`r_c = \sqrt{Q A / (16 \pi)}` with :math:`A = 24 \ln(10)\, V / (c T)`,
        about :math:`0.057 \sqrt{Q V / T}` (Kuttruff, "Room Acoustics",
        chapter 5). [m]

    Raises
    ------
    ParameterError
        If a figure is not positive.

    Examples
    --------
    >>> round(reverberation_distance_m(
    ...     volume_m3=90.0, decay_time_s=0.4, sound_speed=343.2, directivity=1.0), 3)
    0.849
    """
    _need_positive(
        volume_m3=volume_m3, decay_time_s=decay_time_s, sound_speed=sound_speed, directivity=directivity
    )
    absorption_area_m2 = DECAY_NEPERS * volume_m3 / (sound_speed * decay_time_s)
    return math.sqrt(directivity * absorption_area_m2 / (16.0 * math.pi))


def direct_to_reverberant_db(*, distance_m: float, reverberation_distance_m: float) -> float:
    r"""Level of the direct sound over the reverberant sound.

    Parameters
    ----------
    distance_m : float
        From source to microphone. [m]
    reverberation_distance_m : float
        Where both are equal. [m]

    Returns
    -------
    float
        :math:`-20 \lg(r / r_c)` (Kuttruff, "Room Acoustics", chapter 5). [dB]

    Raises
    ------
    ParameterError
        If a distance is not positive.

    Examples
    --------
    >>> round(direct_to_reverberant_db(distance_m=2.0, reverberation_distance_m=1.0), 2)
    -6.02
    """
    _need_positive(distance_m=distance_m, reverberation_distance_m=reverberation_distance_m)
    return -20.0 * math.log10(distance_m / reverberation_distance_m)


def least_source_distance_m(*, volume_m3: float, decay_time_s: float, sound_speed: float) -> float:
    r"""Least distance from source to microphone for a measurement of decay.

    Parameters
    ----------
    volume_m3 : float
        Volume V. [m3]
    decay_time_s : float
        Estimate of the decay time T. [s]
    sound_speed : float
        Speed of sound c. [m/s]

    Returns
    -------
    float
        :math:`d_\mathrm{min} = 2 \sqrt{V / (c T)}` (ISO 3382-2:2008, 4.3). [m]

    Raises
    ------
    ParameterError
        If a figure is not positive.

    Examples
    --------
    >>> round(least_source_distance_m(volume_m3=450.0, decay_time_s=2.0, sound_speed=342.0), 1)
    1.6
    """
    _need_positive(volume_m3=volume_m3, decay_time_s=decay_time_s, sound_speed=sound_speed)
    return 2.0 * math.sqrt(volume_m3 / (sound_speed * decay_time_s))


def _need_positive(**figures: float) -> None:
    for name, value in figures.items():
        if not (math.isfinite(value) and value > 0.0):
            raise ParameterError(f"{name} is {value:g}; it has to be a positive number", code="not-positive")
