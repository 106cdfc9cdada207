"""How much the air itself absorbs: what shortens the decay of large or hard rooms at 4 kHz and above."""

from __future__ import annotations

import math

from roomir.errors import ParameterError

_REFERENCE_K = 293.15
_TRIPLE_POINT_K = 273.16
_REFERENCE_KPA = 101.325


def air_attenuation_db_per_m(
    frequency_hz: float,
    *,
    temperature_c: float,
    humidity_percent: float,
    pressure_kpa: float = _REFERENCE_KPA,
) -> float:
    r"""Attenuation of a pure tone by the air.

    Parameters
    ----------
    frequency_hz : float
        Frequency; for a band its exact midband frequency. [Hz]
    temperature_c : float
        Air temperature, -20 to 50 for the stated accuracy. [degC]
    humidity_percent : float
        Relative humidity, above 0 up to 100. [%]
    pressure_kpa : float, default 101.325
        Air pressure. [kPa]

    Returns
    -------
    float
        Attenuation coefficient, equations (3) to (5) and Annex B of
        ISO 9613-1:1993. [dB/m]

    Raises
    ------
    ParameterError
        If a figure is outside its range.

    Examples
    --------
    A kilometre of air at 10 degC and 70 % takes 32.8 dB at 4 kHz
    (ISO 9613-2:1996, Table 2):

    >>> round(1000 * air_attenuation_db_per_m(3981.07, temperature_c=10, humidity_percent=70), 1)
    32.8
    """
    if not (0.0 < humidity_percent <= 100.0 and temperature_c > -273.15):
        raise ParameterError(
            f"air at {temperature_c:g} degC with {humidity_percent:g} % humidity does not exist",
            code="bad-air",
            remedy="give the temperature in degC and the relative humidity from 1 to 100 percent",
        )
    if not (frequency_hz > 0.0 and pressure_kpa > 0.0):
        raise ParameterError("frequency and air pressure have to be positive", code="not-positive")
    kelvin = temperature_c + 273.15
    warmth = kelvin / _REFERENCE_K
    pressure = pressure_kpa / _REFERENCE_KPA
    saturation = 10.0 ** (-6.8346 * (_TRIPLE_POINT_K / kelvin) ** 1.261 + 4.6151)
    h = humidity_percent * saturation / pressure
    relax_o = pressure * (24.0 + 4.04e4 * h * (0.02 + h) / (0.391 + h))
    relax_n = pressure * warmth**-0.5 * (9.0 + 280.0 * h * math.exp(-4.170 * (warmth ** (-1.0 / 3.0) - 1.0)))
    f2 = frequency_hz**2
    classical = 1.84e-11 / pressure * math.sqrt(warmth)
    oxygen = 0.01275 * math.exp(-2239.1 / kelvin) / (relax_o + f2 / relax_o)
    nitrogen = 0.1068 * math.exp(-3352.0 / kelvin) / (relax_n + f2 / relax_n)
    return float(8.686 * f2 * (classical + warmth**-2.5 * (oxygen + nitrogen)))


def energy_attenuation_per_m(attenuation_db_per_m: float) -> float:
    r"""Turn an attenuation in decibels into the m of Sabine's 4 m V.

    Parameters
    ----------
    attenuation_db_per_m : float
        Attenuation. [dB/m]

    Returns
    -------
    float
        :math:`m = a / (10 \lg e)` (ISO 354:2003, 8.1.2.1). [1/m]

    Examples
    --------
    >>> round(energy_attenuation_per_m(4.3429), 3)
    1.0
    """
    return attenuation_db_per_m / (10.0 * math.log10(math.e))
