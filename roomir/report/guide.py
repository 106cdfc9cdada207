"""Before the first take: a short guide for one person with a phone."""

from __future__ import annotations

from dataclasses import dataclass

from roomir.report.room import TEMPERATURE_C
from roomir.report.rounding import significant
from roomir.report.view import CAUTION
from roomir.rooms.places import Places
from roomir.rooms.statistics import least_source_distance_m, sound_speed_m_per_s

_DRY_S = 0.3
"""Decay time of a dry small room; the drier, the farther from the phone one has to stand. [s]"""

GuideSection = tuple[str, tuple[str, ...]]
"""A heading and its lines."""

_PHONE = (
    (
        "Use the recorder that came with the phone, or any that saves WAV, FLAC or M4A; of its qualities"
        " take the best (lossless or high), not the one for voices."
    ),
    (
        "Turn off what it calls voice isolation, noise reduction, enhancement or automatic gain. If it shows"
        " a level, try one clap: the level should stay short of the end."
    ),
    "Flight mode on; take the phone out of a sleeve that covers the microphone.",
)
_ROOM = (
    (
        "Heater, fans, ventilation, computer off, the fridge for ten minutes (put your car keys into it, so"
        " that you switch it on again). Doors and windows as they will be later; nobody else in the room."
    ),
)
_CLAPS = (
    (
        "One recording for each spot, four spots at least. Start it, go to your place, stand still for five"
        " seconds."
    ),
    (
        "One clap, as hard as you can, hands cupped and stiff. Stand still until it is quiet and then five"
        " seconds more. A second clap, five seconds, stop. Do not speak meanwhile. More claps in one spot"
        " tell little; more spots tell a lot."
    ),
    "Hands hold little below 250 Hz. For the bass pop a balloon or strike two boards as well.",
    CAUTION,
)
_FILES = (
    (
        "Send the file itself to this computer: by cable, as an attachment, or through a folder that both"
        " see; not as a voice message, which packs the sound anew. Call the files spot1, spot2 and so on."
    ),
    (
        "After the first spot: roomir advise spot1.m4a says what to change before you do the others. After"
        " the last: roomir read spot1.m4a spot2.m4a spot3.m4a spot4.m4a"
    ),
)
_PLACES = (
    (
        "Phone one metre or more from walls and large furniture, at the height of your ears, on a stand, a"
        " ladder's step or books on a chair; not in a corner, not in the middle of the room, not on anything"
        " soft."
    ),
    (
        "You two or three steps away from it and a metre from the walls. For the next spot both move, two"
        " metres or more where the room allows it."
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """What to do before and during the first take.

    Attributes
    ----------
    sections : tuple of (str, tuple of str)
        Headings with their lines, in the order in which they are done.
    """

    sections: tuple[GuideSection, ...]


def make_guide(*, volume_m3: float | None = None, floor: Places | None = None) -> Guide:
    """Write the guide, with figures where the room's size is known.

    Parameters
    ----------
    volume_m3 : float, optional
        Volume: tells how far from the phone to clap. [m3]
    floor : Places, optional
        Where to put the phone, as from :func:`roomir.rooms.places.places`.
    """
    where = list(_PLACES)
    if volume_m3 is not None:
        least_m = least_source_distance_m(
            volume_m3=volume_m3,
            decay_time_s=_DRY_S,
            sound_speed=sound_speed_m_per_s(temperature_c=TEMPERATURE_C),
        )
        where.append(
            f"In {round(volume_m3, 1):g} m3 stand at least {significant(least_m, digits=2)} m from the phone"
            f" (ISO 3382-2, for a room that rings no longer than {_DRY_S:g} s; nearer will do if it rings"
            " longer)."
        )
    if floor is not None:
        where += place_lines(floor)
    return Guide(
        sections=(
            ("The phone", _PHONE),
            ("The room", _ROOM),
            ("Where", tuple(where)),
            ("The claps", _CLAPS),
            ("The files", _FILES),
        )
    )


def place_lines(floor: Places) -> tuple[str, ...]:
    """Say where the places are and how to go through them."""
    named = [chr(ord("A") + i) for i in range(len(floor.at_m))]
    where = ", ".join(
        f"{name} {x:.2g} m and {y:.2g} m" for name, (x, y) in zip(named, floor.at_m, strict=True)
    )
    turns = ", ".join(f"{a} and {b}" for a, b in zip(named, [*named[1:], named[0]], strict=True))
    lines = [
        (
            f"In your room, from one corner along the long and the short wall: {where}."
            f" Phone and you in turn: {turns}."
        ),
    ]
    if floor.apart_m < 2.0:
        lines.append(
            f"They are {floor.apart_m:.1f} m apart, less than the two metres one would like:"
            " the room has no more."
        )
    return tuple(lines)
