"""The values of what was found in a room: plain numbers, for the reading and what shows it."""

from __future__ import annotations

from dataclasses import dataclass, field

from roomir.rooms.modes import BoxMode


@dataclass(frozen=True, slots=True, kw_only=True)
class FlutterBand:
    """What one band shows of a flutter.

    Attributes
    ----------
    nominal_hz : float
        Name of the band. [Hz]
    found : bool
        Whether the row of echoes shows in this band by itself.
    beyond_chance : float
        Self-likeness at the spacing and its multiples, in standard deviations of what a diffuse
        decay has by chance.
    strength_db : float or None
        Energy of the echoes over that of the diffuse decay, over the stretch that was looked at;
        None where the band does not show them. [dB]
    mean_strength_db : float or None
        The same with every moment of that stretch alike: larger where the echoes outlast the rest. [dB]
    """

    nominal_hz: float
    found: bool
    beyond_chance: float
    strength_db: float | None
    mean_strength_db: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfacePair:
    """Two opposite surfaces of a box.

    Attributes
    ----------
    along : str
        ``"length"``, ``"width"`` or ``"height"``: the dimension between them.
    apart_m : float
        Their distance as told. [m]
    midway : bool
        Whether they fit only if clap and phone were midway between them.
    """

    along: str
    apart_m: float
    midway: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Flutter:
    """A row of echoes at equal distances.

    Attributes
    ----------
    spacing_s : float
        From one echo to the next of the same kind. [s]
    beyond_chance : float
        As for `FlutterBand`, in the search that showed it best.
    strength_db, mean_strength_db : float
        Medians over the bands that show it. [dB]
    bands : tuple of FlutterBand
        Every band that was looked at.
    distance_m, double_m : float
        How far apart the walls are that it implies, at 20 degrees Celsius: half of the way that
        sound goes in one spacing; or all of it, where clap and phone were midway between them and
        every echo came twice as often. [m]
    pairs : tuple of SurfacePair
        The pairs of surfaces of the box that it fits; empty without dimensions.
    likeness : tuple of float
        Self-likeness of the decay in steps of 1 ms, from no lag on, in standard deviations.
    """

    spacing_s: float
    beyond_chance: float
    strength_db: float
    mean_strength_db: float
    bands: tuple[FlutterBand, ...]
    distance_m: float
    double_m: float
    pairs: tuple[SurfacePair, ...] = ()
    likeness: tuple[float, ...] = field(default=(), repr=False, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reflection:
    """One reflection in one spot.

    Attributes
    ----------
    spot : int
        Where clap and phone stood, from 0 in order of first appearance.
    take : int
        The first recording of that spot.
    delay_s : float
        After the direct sound. [s]
    level_db : float
        Energy re the direct sound, 2 kHz and up. [dB]
    over_decay_db : float
        Over what the decay has at that moment. [dB]
    path_difference_m : float
        How much longer a way it has come than the direct sound, at 20 degrees Celsius. [m]
    claps, of_claps : int
        How many of the spot's claps show it.
    """

    spot: int
    take: int
    delay_s: float
    level_db: float
    over_decay_db: float
    path_difference_m: float
    claps: int
    of_claps: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoSlopes:
    """A band whose decay goes on more slowly from some level down.

    Attributes
    ----------
    nominal_hz : float
        Name of the band. [Hz]
    first_s, second_s : float
        Decay times of both. [s]
    second_level_db : float
        Level of the second at time zero re the first. [dB]
    bend_s : float
        When both are equally strong. [s]
    bend_db : float
        How far the decay has fallen by then. [dB]
    """

    nominal_hz: float
    first_s: float
    second_s: float
    second_level_db: float
    bend_s: float
    bend_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardMode:
    """A tone that the room rings on.

    Attributes
    ----------
    frequency_hz : float
        Of the peak. [Hz]
    decay_time_s : float
        Its own. [s]
    level_db : float
        Re the strongest. [dB]
    modes : tuple of BoxMode
        The modes of the box that it may be: several where they lie closer than 2.2/T; none where the
        box has none there.
    """

    frequency_hz: float
    decay_time_s: float
    level_db: float
    modes: tuple[BoxMode, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomModes:
    """The box's modes and what was heard of them.

    Attributes
    ----------
    dimensions_m : (float, float, float)
        Length, width and height as told. [m]
    highest_hz : float
        How far up single modes were looked for. [Hz]
    width_hz : float
        2.2/T at the decay time of the low octaves: modes closer than this are one peak. [Hz]
    modes : tuple of BoxMode
        All of the box, low to high.
    heard : tuple of HeardMode
        The spectrum's peaks, low to high.
    spectrum_hz, spectrum_db : tuple of float
        Spectrum of the late decay re its highest.
    """

    dimensions_m: tuple[float, float, float]
    highest_hz: float
    width_hz: float
    modes: tuple[BoxMode, ...]
    heard: tuple[HeardMode, ...]
    spectrum_hz: tuple[float, ...] = field(default=(), repr=False, compare=False)
    spectrum_db: tuple[float, ...] = field(default=(), repr=False, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomFindings:
    """What a room does besides ringing; all of it indicative where claps made the sound.

    Attributes
    ----------
    flutter : Flutter or None
        A row of echoes at equal distances.
    echoes : tuple of Reflection
        Late echoes, by spot.
    two_slopes : tuple of TwoSlopes
        Bands whose late decay is slower.
    reflections : tuple of Reflection
        Early reflections behind the clap's own sound, by spot.
    modes : RoomModes or None
        The box's modes and what was heard of them; None without dimensions.
    """

    flutter: Flutter | None = None
    echoes: tuple[Reflection, ...] = ()
    two_slopes: tuple[TwoSlopes, ...] = ()
    reflections: tuple[Reflection, ...] = ()
    modes: RoomModes | None = None
