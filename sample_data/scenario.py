"""The dairy and the booth: rooms, materials, stages, spots and takes, as plain facts.

Everything here is invented except the absorption coefficients, which are rows
of published tables (see ``MATERIALS``). ``make_sample_data.py`` turns these
facts into sound.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import OCTAVES
from roomir.rooms.air import air_attenuation_db_per_m, energy_attenuation_per_m
from roomir.rooms.statistics import eyring_decay_time_s, sound_speed_m_per_s
from roomir.synth.box import BoxRoom, DiffuseTail, Octaves, octave_crossfades

TEMPERATURE_C = 14.0
HUMIDITY_PERCENT = 65.0
SOUND_SPEED_M_PER_S = sound_speed_m_per_s(temperature_c=TEMPERATURE_C)
AIR_DB_PER_M: Octaves = tuple(
    air_attenuation_db_per_m(band.exact_hz, temperature_c=TEMPERATURE_C, humidity_percent=HUMIDITY_PERCENT)
    for band in OCTAVES
)

# Random-incidence absorption coefficients, 125 Hz to 4 kHz. None of the tables has a 63 Hz column and few
# have 8 kHz: 63 Hz takes the figure of 125 Hz and 8 kHz that of 4 kHz (see _octaves).
# [V] M. Vorlaender, "Auralization" (Springer, 2008), annex, tables of absorption coefficients.
# [B] R. F. Barron, "Industrial Noise Control and Acoustics" (Marcel Dekker, 2003), appendix D.
# [C] T. J. Cox and P. D'Antonio, "Acoustic Absorbers and Diffusers", appendix A.
MATERIALS: dict[str, tuple[float, float, float, float, float, float]] = {
    "rough stone": (
        0.08,
        0.09,
        0.12,
        0.16,
        0.22,
        0.24,
    ),  # [V] brick with 10 mm deep pointing, the nearest row
    "rough concrete": (0.02, 0.03, 0.03, 0.03, 0.04, 0.07),  # [V]
    "stage floor": (0.10, 0.07, 0.06, 0.06, 0.06, 0.06),  # [V] 27 mm boards over air
    "plasterboard": (0.15, 0.10, 0.06, 0.04, 0.04, 0.05),  # [V] 2 x 13 mm on frame, 50 mm wool, painted
    "plasterboard ceiling": (0.20, 0.15, 0.10, 0.08, 0.04, 0.02),  # [V] large air space above
    "wooden door": (0.14, 0.10, 0.06, 0.08, 0.10, 0.10),  # [V] solid
    "plywood": (0.38, 0.24, 0.17, 0.10, 0.08, 0.05),  # [B] 3/16 in over 2 in of air
    "velour": (0.14, 0.35, 0.55, 0.72, 0.70, 0.65),  # [C] heavy velour draped to half its width
    "stone wool": (0.23, 0.59, 0.86, 0.86, 0.86, 0.86),  # [V] 50 mm, 40 kg/m3
    "carpet": (0.08, 0.24, 0.57, 0.69, 0.71, 0.73),  # [C] heavy, on felt
}


def _octaves(material: str) -> Octaves:
    row = MATERIALS[material]
    return (row[0], *row, row[-1])


def _surface(*, area_m2: float, ground: str, patches: dict[str, float]) -> Octaves:
    """Coefficients of a wall of which patches [m2] are covered with something else."""
    left_m2 = area_m2 - sum(patches.values())
    parts = [(left_m2, _octaves(ground)), *((m2, _octaves(name)) for name, m2 in patches.items())]
    return tuple(round(sum(m2 * row[i] for m2, row in parts) / area_m2, 4) for i in range(len(OCTAVES)))


def _room(size_m: tuple[float, float, float], **surfaces: tuple[str, dict[str, float]]) -> BoxRoom:
    length_m, width_m, height_m = size_m
    areas = dict.fromkeys(("west", "east"), width_m * height_m)
    areas |= dict.fromkeys(("south", "north"), length_m * height_m)
    areas |= dict.fromkeys(("floor", "ceiling"), length_m * width_m)
    return BoxRoom(
        length_m=length_m,
        width_m=width_m,
        height_m=height_m,
        **{
            name: _surface(area_m2=areas[name], ground=ground, patches=patches)
            for name, (ground, patches) in surfaces.items()
        },
    )


DAIRY_M = (9.0, 6.0, 3.2)
BOOTH_M = (2.4, 2.0, 2.2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One state of one room.

    Attributes
    ----------
    room, stage, note : str
        Names, and what was done.
    box : BoxRoom
        Dimensions and absorption.
    tail_from_s, tail_full_s : float
        Where the statistical tail takes over from the images. [s]
    """

    room: str
    stage: str
    note: str
    box: BoxRoom
    tail_from_s: float
    tail_full_s: float

    @property
    def eyring_s(self) -> Octaves:
        """Decay time after Norris and Eyring per octave, air included [s]."""
        return tuple(
            eyring_decay_time_s(
                volume_m3=self.box.volume_m3,
                surface_m2=self.box.surface_m2,
                mean_absorption=float(alpha),
                sound_speed=SOUND_SPEED_M_PER_S,
                air_per_m=energy_attenuation_per_m(air),
            )
            for alpha, air in zip(self.box.mean_absorption, AIR_DB_PER_M, strict=True)
        )

    @property
    def band_decay_s(self) -> Octaves:
        """T30 that an octave filter finds in the tail [s].

        Where the decay time changes much from octave to octave, a band holds
        slower and faster parts and the slower ones last: the band's T30 is
        longer than the figure at its centre. This sums the tail's energy over
        each band (power response of a Butterworth octave of third order),
        for a source with a flat spectrum, and reads -5 to -35 dB.
        """
        return tuple(
            _band_t30_s(low_hz=band.low_hz, high_hz=band.high_hz, octaves_s=self.eyring_s) for band in OCTAVES
        )

    @property
    def tail(self) -> DiffuseTail:
        """The tail that follows the images."""
        return DiffuseTail(from_s=self.tail_from_s, full_s=self.tail_full_s, decay_time_s=self.eyring_s)


def _band_t30_s(*, low_hz: float, high_hz: float, octaves_s: Octaves) -> float:
    frequency_hz: NDArray[np.float64] = np.geomspace(low_hz / 4.0, min(high_hz * 4.0, 22_000.0), 241)
    centre_hz, width_hz = np.sqrt(low_hz * high_hz), high_hz - low_hz
    off_centre = (frequency_hz**2 - centre_hz**2) / (frequency_hz * width_hz)
    # Steps are even in log frequency, so each stands for a stretch proportional to its frequency.
    power = frequency_hz / (1.0 + off_centre**6)
    time_s = np.linspace(0.0, 1.2 * max(octaves_s), 1201)
    falls = 10.0 ** (-3.0 * time_s / np.array(octaves_s)[:, np.newaxis])
    energy = power @ (octave_crossfades(frequency_hz).T @ falls) ** 2
    level_db = 10.0 * np.log10(np.cumsum(energy[::-1])[::-1] / energy.sum())
    fit = (level_db <= -5.0) & (level_db >= -35.0)
    return -60.0 / float(np.polyfit(time_s[fit], level_db[fit], 1)[0])


def _dairy(stage: str, note: str, **surfaces: tuple[str, dict[str, float]]) -> Stage:
    return Stage(
        room="dairy",
        stage=stage,
        note=note,
        box=_room(DAIRY_M, **surfaces),
        tail_from_s=0.03,
        tail_full_s=0.08,
    )


def _booth(stage: str, note: str, **surfaces: tuple[str, dict[str, float]]) -> Stage:
    return Stage(
        room="booth",
        stage=stage,
        note=note,
        box=_room(BOOTH_M, **surfaces),
        tail_from_s=0.012,
        tail_full_s=0.03,
    )


STAGES: dict[str, Stage] = {
    "dairy_1_bare": _dairy(
        "bare",
        "stone walls, concrete floor, hayloft boards overhead",
        west=("rough stone", {"wooden door": 4.0}),
        east=("rough stone", {}),
        south=("rough stone", {}),
        north=("rough stone", {}),
        floor=("rough concrete", {}),
        ceiling=("stage floor", {}),
    ),
    "dairy_2_boarded": _dairy(
        "boarded",
        "plasterboard ceiling, thin plywood over air along the north and east walls, wooden floor",
        west=("rough stone", {"wooden door": 4.0}),
        east=("plywood", {}),
        south=("rough stone", {}),
        north=("plywood", {}),
        floor=("stage floor", {}),
        ceiling=("plasterboard ceiling", {}),
    ),
    "dairy_3_curtains": _dairy(
        "curtains",
        "as boarded, heavy curtains on trial along the north wall and half of the west wall",
        west=("rough stone", {"wooden door": 4.0, "velour": 9.0}),
        east=("plywood", {}),
        south=("rough stone", {}),
        north=("plywood", {"velour": 24.0}),
        floor=("stage floor", {}),
        ceiling=("plasterboard ceiling", {}),
    ),
    "dairy_4_panels": _dairy(
        "panels",
        "one curtain kept; stone-wool panels, 20 m2 on the ceiling and 6 m2 on each long wall",
        west=("rough stone", {"wooden door": 4.0, "velour": 9.0}),
        east=("plywood", {}),
        south=("rough stone", {"stone wool": 6.0}),
        north=("plywood", {"stone wool": 6.0}),
        floor=("stage floor", {}),
        ceiling=("plasterboard ceiling", {"stone wool": 20.0}),
    ),
    "booth_1_bare": _booth(
        "bare",
        "plasterboard on frames all round, wooden floor, solid door",
        west=("plasterboard", {"wooden door": 1.8}),
        east=("plasterboard", {}),
        south=("plasterboard", {}),
        north=("plasterboard", {}),
        floor=("stage floor", {}),
        ceiling=("plasterboard ceiling", {}),
    ),
    "booth_2_lined": _booth(
        "lined",
        "stone wool: 1.2 m2 on the ceiling, 1 m2 on the east wall and 0.5 m2 each on south and north; a rug",
        west=("plasterboard", {"wooden door": 1.8}),
        east=("plasterboard", {"stone wool": 1.0}),
        south=("plasterboard", {"stone wool": 0.5}),
        north=("plasterboard", {"stone wool": 0.5}),
        floor=("stage floor", {"carpet": 1.5}),
        ceiling=("plasterboard ceiling", {"stone wool": 1.2}),
    ),
}

Place = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where the clapper and the phone stood [m]."""

    source_m: Place
    phone_m: Place


SPOTS: dict[str, tuple[Spot, ...]] = {
    "dairy": (
        Spot(source_m=(1.6, 1.5, 1.4), phone_m=(5.1, 3.9, 1.2)),
        Spot(source_m=(7.2, 1.3, 1.4), phone_m=(4.0, 3.3, 1.3)),
        Spot(source_m=(7.6, 4.6, 1.5), phone_m=(4.5, 2.2, 1.1)),
        Spot(source_m=(2.1, 4.4, 1.3), phone_m=(5.8, 2.6, 1.4)),
        Spot(source_m=(4.4, 1.2, 1.4), phone_m=(2.2, 4.1, 1.2)),
    ),
    "booth": (
        Spot(source_m=(0.7, 0.6, 1.4), phone_m=(1.8, 1.5, 1.1)),
        Spot(source_m=(1.7, 0.7, 1.3), phone_m=(0.6, 1.4, 1.2)),
        Spot(source_m=(1.6, 1.5, 1.5), phone_m=(0.8, 0.5, 1.0)),
        Spot(source_m=(0.6, 1.4, 1.2), phone_m=(1.7, 0.6, 1.5)),
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """One file.

    Attributes
    ----------
    file_name : str
        Name in this folder; its suffix is its format.
    stage : str
        Key into ``STAGES``.
    spots : tuple of int
        Number of the spot (from 1) for each clap, in order.
    source : str
        ``"clap"`` or ``"pop"``.
    gap_s : float
        Time from one clap to the next, about. [s]
    noise_dbfs : float
        Background noise, broadband. [dB re full scale, rms]
    sample_rate_hz, n_channels : int
        Format of the recording.
    recorded_at : str
        Invented date, ISO 8601 in UTC.
    distractors : bool
        Whether footsteps and a door are heard between the claps.
    seed : int
        Everything random about this take.
    """

    file_name: str
    stage: str
    spots: tuple[int, ...]
    source: str = "clap"
    gap_s: float
    noise_dbfs: float
    sample_rate_hz: int = 48_000
    n_channels: int = 1
    recorded_at: str
    distractors: bool = False
    seed: int


TAKES: tuple[Take, ...] = (
    *(
        Take(
            file_name=f"dairy_1_bare_spot{spot}.flac",
            stage="dairy_1_bare",
            spots=(spot,) * 3,
            gap_s=2.2,
            noise_dbfs=-62.0,
            recorded_at=f"2024-03-09T10:0{spot}:00+00:00",
            seed=1100 + spot,
        )
        for spot in range(1, 6)
    ),
    Take(
        file_name="dairy_2_boarded_walk.m4a",
        stage="dairy_2_boarded",
        spots=(1, 1, 2, 2, 3, 3, 4, 4, 5, 5),
        gap_s=2.4,
        noise_dbfs=-62.0,
        sample_rate_hz=44_100,
        recorded_at="2024-05-18T16:20:00+00:00",
        seed=1200,
    ),
    Take(
        file_name="dairy_3_curtains_spot1.wav",
        stage="dairy_3_curtains",
        spots=(1,) * 4,
        gap_s=1.9,
        noise_dbfs=-64.0,
        recorded_at="2024-06-22T09:31:00+00:00",
        distractors=True,
        seed=1301,
    ),
    *(
        Take(
            file_name=f"dairy_3_curtains_spot{spot}.{suffix}",
            stage="dairy_3_curtains",
            spots=(spot,) * 3,
            gap_s=1.5,
            noise_dbfs=-64.0,
            recorded_at=f"2024-06-22T09:3{spot}:00+00:00",
            seed=1300 + spot,
        )
        for spot, suffix in ((2, "flac"), (3, "m4a"), (4, "flac"), (5, "m4a"))
    ),
    *(
        Take(
            file_name=f"dairy_4_panels_spot{spot}.{suffix}",
            stage="dairy_4_panels",
            spots=(spot,) * 3,
            source=source,
            gap_s=1.3,
            noise_dbfs=-64.0,
            sample_rate_hz=rate,
            recorded_at=f"2024-09-14T14:0{spot}:00+00:00",
            seed=1400 + spot,
        )
        for spot, suffix, rate, source in (
            (1, "mov", 44_100, "clap"),
            (2, "m4a", 48_000, "clap"),
            (3, "wav", 44_100, "pop"),
            (4, "flac", 48_000, "pop"),
        )
    ),
    Take(
        file_name="booth_1_bare.wav",
        stage="booth_1_bare",
        spots=(1, 2, 3, 4),
        gap_s=1.5,
        noise_dbfs=-66.0,
        sample_rate_hz=44_100,
        recorded_at="2024-07-06T11:12:00+00:00",
        seed=1500,
    ),
    Take(
        file_name="booth_2_lined.wav",
        stage="booth_2_lined",
        spots=(1, 2, 3, 4),
        source="pop",
        gap_s=1.0,
        noise_dbfs=-66.0,
        n_channels=2,
        recorded_at="2024-10-05T11:40:00+00:00",
        seed=1600,
    ),
)

QUIET_S = 0.35
"""Background alone before the first clap and, beyond the decay, after the last. [s]"""

CUPPED_HZ = (450.0, 950.0)
"""Resonance of the air between cupped hands: everybody had been told to cup them, for the bass. [Hz]"""


def phone_positions(spot: Spot, *, n_channels: int) -> tuple[Place, ...]:
    """One place per channel: a phone held flat has its second microphone 14 cm further along x."""
    x, y, z = spot.phone_m
    return tuple((x + 0.14 * channel, y, z) for channel in range(n_channels))


def longest_eyring_s(stage: Stage) -> float:
    """Return the longest decay time of a stage [s]."""
    return float(np.max(stage.eyring_s))
