"""What is known about a take beside its sound, checked before it is kept."""

from __future__ import annotations

import math
from dataclasses import replace

from roomir.errors import ParameterError
from roomir.logbook.names import clean_name, clean_text
from roomir.logbook.values import About

_COLDEST_C, _HOTTEST_C = -40.0, 60.0


def checked_about(about: About) -> About:
    """Refuse what no air has and what is no text.

    Raises
    ------
    ParameterError
        ``bad-temperature``, ``bad-humidity`` or ``bad-name``.
    """
    temperature_c, humidity_percent = about.temperature_c, about.humidity_percent
    if temperature_c is not None and not _COLDEST_C <= temperature_c <= _HOTTEST_C:
        raise ParameterError(
            f"no room that is built in has {temperature_c:g} degrees",
            code="bad-temperature",
            remedy="give it in degrees Celsius, as in 18 or 21.5",
        )
    if humidity_percent is not None and not (
        math.isfinite(humidity_percent) and 0.0 <= humidity_percent <= 100.0
    ):
        raise ParameterError(
            f"no air has a relative humidity of {humidity_percent:g} %",
            code="bad-humidity",
            remedy="give it in per cent, from 0 to 100",
        )
    spot = clean_name(about.spot, kind="spot") if about.spot else ""
    return replace(
        about,
        spot=spot,
        source_position=clean_text(about.source_position.strip(), what="place of the source"),
        microphone_position=clean_text(about.microphone_position.strip(), what="place of the microphone"),
        made_with=clean_text(about.made_with.strip(), what="name of what made the sound"),
        note=clean_text(about.note.strip(), what="note"),
    )
