"""What the decay time says about a room of known size: where statistics hold and where to stand."""

from __future__ import annotations

import math
from dataclasses import dataclass

from roomir.errors import ParameterError
from roomir.reading.reading import Reading
from roomir.remarks import Remark
from roomir.report.rounding import significant
from roomir.report.wording import band_name
from roomir.rooms.places import FROM_SURFACES_M
from roomir.rooms.statistics import (
    least_source_distance_m,
    reverberation_distance_m,
    schroeder_frequency_hz,
    sound_speed_m_per_s,
)

TEMPERATURE_C = 20.0
"""Air temperature assumed for the speed of sound. [degC]"""

DIRECTIVITY_ASSUMED = 2.0
"""Q of a voice or an instrument heard from its front: it radiates into a half space."""

BETWEEN_MICROPHONES_M = 2.0
"""Between two microphone positions: half a wavelength (ISO 3382-2:2008, 4.3). [m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomAdvice:
    """Distances and frequencies of one room in the state that was read.

    Attributes
    ----------
    volume_m3 : float
        Volume as told. [m3]
    dimensions_m : (float, float, float) or None
        Length, width, height as told. [m]
    decay_time_s : float or None
        Mid-frequency decay time all of this rests on; ``None`` where the
        reading has none, and then every figure below is ``None`` too. [s]
    schroeder_hz : float or None
        Below it single modes rule. [Hz]
    reverberation_distance_m : float or None
        Direct and reverberant sound equally strong, source radiating alike in
        all directions (Q = 1). [m]
    directivity_assumed : float
        Q behind ``direct_leads_within_m``.
    direct_leads_within_m : float or None
        Nearer than this a voice or an instrument is heard more directly than
        through the room. [m]
    least_distance_m : float or None
        Least distance from clap to microphone for a reading (ISO 3382-2:2008, 4.3). [m]
    remarks : tuple of Remark
        What limits the use of these figures in this room.
    """

    volume_m3: float
    dimensions_m: tuple[float, float, float] | None
    decay_time_s: float | None
    schroeder_hz: float | None
    reverberation_distance_m: float | None
    directivity_assumed: float
    direct_leads_within_m: float | None
    least_distance_m: float | None
    remarks: tuple[Remark, ...]


def advise_room(
    reading: Reading,
    *,
    volume_m3: float,
    dimensions_m: tuple[float, float, float] | None = None,
) -> RoomAdvice:
    """Work out where statistics hold and where to stand, from the mid-frequency decay time.

    Parameters
    ----------
    reading : Reading
        Its ``mid.decay_time_s`` is used.
    volume_m3 : float
        Volume of the room. [m3]
    dimensions_m : (float, float, float), optional
        Length, width and height, to tell whether the standard's distances fit
        in; without them the room is taken to be about as long as wide as high. [m]

    Returns
    -------
    RoomAdvice
        With figures, or with the remark that says what is missing for them.

    Raises
    ------
    ParameterError
        If the volume or a dimension is not a positive number.
    """
    for figure in (volume_m3, *(dimensions_m or ())):
        if not (math.isfinite(figure) and figure > 0.0):
            raise ParameterError(
                f"{figure:g} is no size for a room",
                code="bad-room-size",
                remedy="give metres, cubic metres, feet or cubic feet above zero",
            )
    decay_time_s = reading.mid.decay_time_s
    if decay_time_s is None:
        return RoomAdvice(
            volume_m3=volume_m3,
            dimensions_m=dimensions_m,
            decay_time_s=None,
            schroeder_hz=None,
            reverberation_distance_m=None,
            directivity_assumed=DIRECTIVITY_ASSUMED,
            direct_leads_within_m=None,
            least_distance_m=None,
            remarks=(_NO_DECAY_TIME,),
        )
    sound_speed = sound_speed_m_per_s(temperature_c=TEMPERATURE_C)
    schroeder_hz = schroeder_frequency_hz(volume_m3=volume_m3, decay_time_s=decay_time_s)
    least_m = least_source_distance_m(volume_m3=volume_m3, decay_time_s=decay_time_s, sound_speed=sound_speed)
    distance_m, leads_m = (
        reverberation_distance_m(
            volume_m3=volume_m3, decay_time_s=decay_time_s, sound_speed=sound_speed, directivity=q
        )
        for q in (1.0, DIRECTIVITY_ASSUMED)
    )
    return RoomAdvice(
        volume_m3=volume_m3,
        dimensions_m=dimensions_m,
        decay_time_s=decay_time_s,
        schroeder_hz=schroeder_hz,
        reverberation_distance_m=distance_m,
        directivity_assumed=DIRECTIVITY_ASSUMED,
        direct_leads_within_m=leads_m,
        least_distance_m=least_m,
        remarks=(
            *_modes_rule(reading, schroeder_hz=schroeder_hz),
            *_rules_that_do_not_fit(volume_m3=volume_m3, dimensions_m=dimensions_m, least_m=least_m),
        ),
    )


_NO_DECAY_TIME = Remark(
    code="room-needs-mid-decay-time",
    says="distances and the Schroeder frequency need a decay time at 500 Hz and 1 kHz, which is missing",
    remedy="take the reading again; the steps are named above",
)


def _modes_rule(reading: Reading, *, schroeder_hz: float) -> tuple[Remark, ...]:
    below = [
        band_name(room_band.figures.band.nominal_hz)
        for room_band in reading.bands
        if room_band.figures.band.exact_hz < schroeder_hz
    ]
    if not below:
        return ()
    return (
        Remark(
            code="modes-rule",
            says=(
                f"below {significant(schroeder_hz, digits=2)} Hz single modes rule"
                f" ({', '.join(below)}): one decay time says little there, and it changes from spot to spot"
            ),
            remedy="judge these bands from many spots, corners included, rather than from one number",
        ),
    )


def _rules_that_do_not_fit(
    *, volume_m3: float, dimensions_m: tuple[float, float, float] | None, least_m: float
) -> tuple[Remark, ...]:
    sides_m = dimensions_m or (volume_m3 ** (1.0 / 3.0),) * 3
    # What is left of the room for a microphone, and the longest way across that rest.
    inner_m = [side - 2.0 * FROM_SURFACES_M for side in sides_m]
    across_m = math.sqrt(sum(max(side, 0.0) ** 2 for side in inner_m))
    broken = []
    if min(inner_m) < 0.0:
        broken.append(f"{FROM_SURFACES_M:g} m from every surface")
    if across_m < least_m:
        broken.append(f"{significant(least_m, digits=2)} m from clap to microphone")
    if across_m < BETWEEN_MICROPHONES_M:
        broken.append(f"{BETWEEN_MICROPHONES_M:g} m between microphone positions")
    if not broken:
        return ()
    shape = "" if dimensions_m else ", if it is about as long as wide as high"
    return (
        Remark(
            code="room-too-small-for-rules",
            says=(
                f"this room cannot meet all distances of ISO 3382-2 at once{shape}:"
                f" it has no place for {' and '.join(broken)}"
            ),
            remedy=(
                "keep as far as you can from walls and from the clap, use more spots,"
                " and read the result as one for a small room"
            ),
        ),
    )
