"""The planner's front door: where room files, tables, arithmetic and reports meet."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.errors import ParameterError, RoomirError

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    import numpy as np
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from roomir.plan.audition import RoomResponse
    from roomir.plan.model import Expected
    from roomir.plan.propose import Proposal, Window
    from roomir.rooms.absorbers.design import Design
    from roomir.rooms.absorbers.diffuser import Cut, Diffuser
    from roomir.rooms.absorbers.resonators import Helmholtz
    from roomir.rooms.description import Room
    from roomir.rooms.materials import Material, Materials
    from roomir.rooms.prediction import Prediction

    Floats = NDArray[np.float64]

FilePath = str | os.PathLike[str]

LONGEST_DRY_S = 120.0
"""Longest sound to put into a room. [s]"""


def load_room(room: FilePath, *, materials: FilePath | None = None) -> tuple[Room, Materials]:
    """Load the room that somebody names.

    Parameters
    ----------
    room : path
        A room file; its name ends in ``.toml``.
    materials : path, optional
        A table of materials of the user's own.

    Returns
    -------
    Room
        As described, with remarks on gaps and overlaps.
    Materials
        The table that its names come from.

    Raises
    ------
    RoomirError
        If a file is missing or wrong; every fault names its key.
    """
    from roomir.rooms.room_file import load_room as load

    path = Path(room)
    if path.suffix.lower() != ".toml":
        raise ParameterError(
            f"{path} is no room file",
            code="no-such-room",
            remedy="name a file that ends in .toml; `roomir room new` writes one",
        )
    return load(path, materials=None if materials is None else Path(materials))


def predict(room: FilePath, *, materials: FilePath | None = None, with_air: bool = True) -> Prediction:
    """Predict what a described room will read.

    Parameters
    ----------
    room, materials : path
        As for :func:`load_room`.
    with_air : bool, default True
        Whether the air absorbs as well.

    Returns
    -------
    Prediction
        Five formulas per band, the one that applies, and its interval.
    """
    from roomir.rooms.prediction import predict as work_out

    described, _ = load_room(room, materials=materials)
    return work_out(described, with_air=with_air)


def load_materials(path: FilePath | None = None) -> Materials:
    """Load the table of materials, with the user's own over it."""
    from roomir.rooms.materials import load_materials as load

    return load(None if path is None else Path(path))


def find_materials(words: Sequence[str], *, materials: FilePath | None = None) -> list[Material]:
    """Find materials whose name, mounting or source has every word.

    Examples
    --------
    >>> [one.name for one in find_materials(["parquet"])]
    ['parquet on concrete']
    """
    wanted = [word.casefold() for word in words]
    return [
        row
        for row in load_materials(materials)
        if all(word in f"{row.name} {row.mounting} {row.source}".casefold() for word in wanted)
    ]


def write_new_room(
    path: FilePath,
    *,
    name: str,
    dimensions_m: tuple[float, float, float],
    floor: str,
    ceiling: str,
    walls: str,
    door_m2: float = 0.0,
    window_m2: float = 0.0,
    materials: Materials,
) -> None:
    """Write a room file for a box.

    Parameters
    ----------
    path : path
        Where it goes; its name ends in ``.toml``.
    name : str
        What the room is called.
    dimensions_m : (float, float, float)
        Length, width, height. [m]
    floor, ceiling, walls : str
        Materials.
    door_m2, window_m2 : float, default 0
        Areas cut out of the walls. [m2]
    materials : Materials
        Where the names are looked up.

    Raises
    ------
    RoomirError
        If a material is unknown, an opening does not fit, or the file cannot be written.
    """
    from roomir.rooms.new_room import Answers, room_text
    from roomir.rooms.room_file import parse_room

    target = Path(path)
    if target.suffix.lower() != ".toml":
        raise ParameterError(
            f"{target} is no name for a room file", code="no-such-room", remedy="let it end in .toml"
        )
    answers = Answers(
        name=name,
        dimensions_m=dimensions_m,
        floor=floor,
        ceiling=ceiling,
        walls=walls,
        door_m2=door_m2,
        window_m2=window_m2,
    )
    text = room_text(answers, materials=materials)
    parse_room(text, name=target.name, materials=materials)  # an opening larger than its wall is told now
    write_whole(target, text.encode("utf-8"))


def write_whole(target: Path, content: bytes) -> None:
    """Write a file whole or not at all.

    Raises
    ------
    RoomirError
        If it cannot be written.
    """
    unfinished = target.with_name(f".roomir-{secrets.token_hex(8)}")
    try:
        try:
            with unfinished.open("xb") as file:
                file.write(content)
            unfinished.replace(target)
        finally:
            unfinished.unlink(missing_ok=True)
    except (OSError, ValueError) as error:  # a ValueError is a name that no file can have
        raise RoomirError(
            f"{target} cannot be written: {getattr(error, 'strerror', None) or error}",
            code="cannot-write",
            remedy="name a file in a folder you may write to",
        ) from error


def treat(
    room: FilePath,
    *,
    target: str,
    turned_target: str | None = None,
    least: str = "area",
    absorbers: Sequence[str] = (),
    keep: Sequence[str] = (),
    prices: Mapping[str, float] | None = None,
    materials: FilePath | None = None,
) -> Proposal:
    """Propose what to hang so that a room meets a target.

    Parameters
    ----------
    room, materials : path
        As for :func:`load_room`.
    target : str
        A name that ``roomir targets`` lists, seconds as in ``0.2-0.3``, or a TOML file.
    turned_target : str, optional
        A second one, to be met by the same panels turned round.
    least : str, default "area"
        ``"area"``, ``"cost"`` or ``"count"``.
    absorbers : sequence of str
        Materials to choose from; every panel in the table where empty.
    keep : sequence of str
        Surfaces to leave alone.
    prices : mapping of str to float, optional
        Prices per m2 by material.

    Returns
    -------
    Proposal
        The least that meets the target, or the nearest.

    Raises
    ------
    RoomirError
        If the room, a material or the target is wrong.
    """
    from roomir.plan.propose import Wishes, propose
    from roomir.plan.treatment import absorbers_of

    described, table = load_room(room, materials=materials)
    _check_surfaces(described, keep)
    wishes = Wishes(
        absorbers=tuple(
            _panels(absorbers_of(table, absorbers), two_sided=turned_target is not None, table=table)
        ),
        measure=least,
        keep=tuple(keep),
        prices=prices,
    )
    return propose(
        described,
        window_of(target, described),
        wishes,
        materials=table,
        turned_window=None if turned_target is None else window_of(turned_target, described),
    )


def _panels(chosen: list[Material], *, two_sided: bool, table: Materials) -> list[Material]:
    for one in chosen:
        if one.panel is None:
            raise ParameterError(
                f'"{one.name}" is no panel',
                code="no-panel",
                remedy="give it panel_m2, kind, thickness_mm and weight_kg_per_m2 in a table of your own",
            )
    if two_sided and not any(one.panel and one.panel.reverse for one in chosen):
        chosen += [row for row in table if row.panel is not None and row.panel.reverse]
    return chosen


def _check_surfaces(room: Room, names: Sequence[str]) -> None:
    known = {surface.name.casefold() for surface in room.surfaces}
    for name in names:
        if name.casefold() not in known:
            raise ParameterError(
                f'the room has no surface called "{name}"',
                code="no-such-surface",
                remedy=f"it has {', '.join(surface.name for surface in room.surfaces)}",
            )


def window_of(target: str, room: Room) -> Window:
    """Find a target and what it asks of each octave in a room of this volume.

    Raises
    ------
    ParameterError
        If there is no such target.
    """
    import numpy as np

    from roomir.bands.band import OCTAVES
    from roomir.plan.propose import SIX, Window
    from roomir.rooms.targets import find_target

    found = find_target(target)
    limits = [found.limits(OCTAVES[i], volume_m3=room.volume_m3) for i in SIX]
    return Window(
        name=found.name,
        low_s=np.array([0.0 if one is None or one.least_s is None else one.least_s for one in limits]),
        high_s=np.array([np.inf if one is None or one.most_s is None else one.most_s for one in limits]),
    )


def proposal_figure(proposal: Proposal) -> Figure:
    """Draw a proposal."""
    from roomir.report.figures.proposal import proposal_figure as draw

    return draw(proposal)


# ------------------------------------------------------------------ absorbers and diffusers


def porous_absorber(
    *, thickness_m: float, flow_resistivity: float, gap_m: float = 0.0, model: str = "miki", name: str = ""
) -> Design:
    """Work out a porous layer; see :func:`roomir.rooms.absorbers.design.porous_design`."""
    from roomir.rooms.absorbers.design import porous_design

    return porous_design(
        thickness_m=thickness_m, flow_resistivity=flow_resistivity, gap_m=gap_m, model=model, name=name
    )


def perforated_absorber(
    *,
    thickness_m: float,
    hole_m: float,
    spacing_m: float,
    depth_m: float,
    staggered: bool = False,
    fill_m: float = 0.0,
    flow_resistivity: float | None = None,
    name: str = "",
) -> Design:
    """Work out a sheet with round holes before a cavity."""
    from roomir.rooms.absorbers.design import sheet_design
    from roomir.rooms.absorbers.resonators import Perforated

    sheet = Perforated(thickness_m=thickness_m, hole_m=hole_m, spacing_m=spacing_m, staggered=staggered)
    return sheet_design(sheet, depth_m=depth_m, fill_m=fill_m, flow_resistivity=flow_resistivity, name=name)


def slotted_absorber(
    *,
    thickness_m: float,
    slot_m: float,
    spacing_m: float,
    depth_m: float,
    fill_m: float = 0.0,
    flow_resistivity: float | None = None,
    name: str = "",
) -> Design:
    """Work out slats with gaps before a cavity."""
    from roomir.rooms.absorbers.design import sheet_design
    from roomir.rooms.absorbers.resonators import Slotted

    sheet = Slotted(thickness_m=thickness_m, slot_m=slot_m, spacing_m=spacing_m)
    return sheet_design(sheet, depth_m=depth_m, fill_m=fill_m, flow_resistivity=flow_resistivity, name=name)


def membrane_absorber(
    *,
    mass_kg_per_m2: float,
    depth_m: float,
    fill_m: float = 0.0,
    flow_resistivity: float | None = None,
    name: str = "",
) -> Design:
    """Work out a thin board or limp sheet before a cavity."""
    from roomir.rooms.absorbers.design import sheet_design
    from roomir.rooms.absorbers.resonators import Membrane

    sheet = Membrane(mass_kg_per_m2=mass_kg_per_m2)
    return sheet_design(sheet, depth_m=depth_m, fill_m=fill_m, flow_resistivity=flow_resistivity, name=name)


def helmholtz_absorber(*, neck_m2: float, neck_m: float, volume_m3: float) -> Helmholtz:
    """Work out a single resonator."""
    from roomir.rooms.absorbers.resonators import Helmholtz

    return Helmholtz(neck_m2=neck_m2, neck_m=neck_m, volume_m3=volume_m3)


def save_absorber(design: Design, path: FilePath, *, panel_m2: float, weight_kg_per_m2: float) -> None:
    """Add an absorber to a table of materials of one's own, which is made where there is none.

    Raises
    ------
    RoomirError
        If the table has that name already, is wrong, or cannot be written.
    """
    from roomir.rooms.absorbers.design import material_row
    from roomir.rooms.materials import parse_materials, read_text

    target = Path(path)
    before = read_text(target) if target.exists() else ""
    row = material_row(design, panel_m2=panel_m2, weight_kg_per_m2=weight_kg_per_m2)
    known = parse_materials(before, name=target.name, own=True) if before.strip() else []
    if any(one.name.casefold() == design.name.casefold() for one in known):
        raise ParameterError(
            f'{target} has a material called "{design.name}" already',
            code="name-taken",
            remedy="give another --name",
        )
    text = f"{before.rstrip()}\n\n{row}" if before.strip() else row
    parse_materials(text, name=target.name, own=True)
    write_whole(target, text.encode("utf-8"))


def diffuser(
    *,
    n_wells: int,
    design_hz: float,
    well_m: float,
    fin_m: float = 0.004,
    height_m: float = 0.6,
    board_m: float = 0.012,
    periods: int = 1,
) -> tuple[Diffuser, tuple[Cut, ...]]:
    """Work out a quadratic-residue diffuser and its cutting list."""
    from roomir.rooms.absorbers.diffuser import Diffuser, cutting_list

    made = Diffuser(
        n_wells=n_wells,
        design_hz=design_hz,
        well_m=well_m,
        fin_m=fin_m,
        height_m=height_m,
        periods=periods,
    )
    return made, cutting_list(made, board_m=board_m)


def design_figure(design: Design) -> Figure:
    """Draw an absorber's coefficients against frequency."""
    from roomir.report.figures.absorbers import design_figure as draw

    return draw(design)


def diffuser_figure(made: Diffuser) -> Figure:
    """Draw a diffuser from above."""
    from roomir.report.figures.absorbers import diffuser_figure as draw

    return draw(made)


# ------------------------------------------------------------------ hearing


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What was written by :func:`hear`.

    Attributes
    ----------
    path : str
        The file.
    parts : tuple of str
        What is to be heard in it, in this order.
    loudness_lufs : float
        Loudness of every part (Rec. ITU-R BS.1770). [LUFS]
    distance_m, directivity : float
        From source to microphone, and of the source towards it. [m, 1]
    seed : int
        Of the noise in the responses.
    responses : tuple of RoomResponse
        Of every part that is in a room.
    proposal : Proposal or None
        What was proposed.
    """

    path: str
    parts: tuple[str, ...]
    loudness_lufs: float
    distance_m: float
    directivity: float
    seed: int
    responses: tuple[RoomResponse, ...]
    proposal: Proposal | None


def hear(
    room: FilePath,
    path: FilePath,
    *,
    dry: FilePath | None = None,
    target: str | None = None,
    absorbers: Sequence[str] = (),
    distance_m: float = 2.0,
    directivity: float = 2.0,
    seed: int = 1,
    materials: FilePath | None = None,
) -> Heard:
    """Write how a dry sound is heard in a room as it is, and as proposed.

    Parameters
    ----------
    room, materials : path
        As for :func:`load_room`.
    path : path
        A WAV file that does not exist yet.
    dry : path, optional
        A sound without a room; the voice of the sample data if left out.
    target : str, optional
        Also propose a treatment for this target, and let it be heard.
    absorbers : sequence of str
        Materials to choose from.
    distance_m, directivity : float
        From source to microphone [m], and the source's factor Q towards it.
    seed : int
        Of the noise in the responses.

    Returns
    -------
    Heard
        The dry sound, the room as it is and as proposed, equally loud.

    Raises
    ------
    RoomirError
        If the room, the sound or the target is wrong, or the file cannot be written.
    """
    from roomir.audio.save import wav_bytes
    from roomir.plan.audition import in_room, make_response
    from roomir.plan.model import expect
    from roomir.rooms.statistics import sound_speed_m_per_s

    _check_new_wav(Path(path))
    described, _ = load_room(room, materials=materials)
    sound, rate = _dry_sound(dry)
    states, proposal = [("the room as it is", expect(described))], None
    if target is not None:
        proposal = treat(room, target=target, absorbers=absorbers, materials=materials)
        states.append((f"as proposed for {proposal.window.name}", proposal.then.expected))
    responses = [
        make_response(
            _eight(expected),
            volume_m3=described.volume_m3,
            distance_m=distance_m,
            directivity=directivity,
            sound_speed=sound_speed_m_per_s(temperature_c=described.temperature_c),
            sample_rate_hz=rate,
            seed=seed,
        )
        for _, expected in states
    ]
    parts = [sound, *(in_room(sound, response) for response in responses)]
    samples, loudness_lufs = _equally_loud(parts, rate_hz=rate)
    write_whole(Path(path), wav_bytes(samples, sample_rate_hz=rate))
    return Heard(
        path=str(path),
        parts=("dry", *(name for name, _ in states)),
        loudness_lufs=loudness_lufs,
        distance_m=distance_m,
        directivity=directivity,
        seed=seed,
        responses=tuple(responses),
        proposal=proposal,
    )


def _check_new_wav(path: Path) -> None:
    if path.suffix.lower() != ".wav":
        raise ParameterError(
            f"{path} does not end in .wav", code="no-such-figure-format", remedy="let its name end in .wav"
        )
    if path.exists():
        raise ParameterError(
            f"{path} exists and will not be overwritten", code="exists-already", remedy="name a new file"
        )


def _dry_sound(dry: FilePath | None) -> tuple[Floats, int]:
    """Open a dry sound as one channel."""
    import numpy as np

    import roomir
    from roomir.audio.load import open_recording

    beside_package = Path(roomir.__file__).parent.parent / "sample_data" / "dry_voice.flac"
    path = beside_package if dry is None else Path(dry)
    if dry is None and not path.exists():
        raise RoomirError(
            "the dry voice comes with the source, not with the installed package",
            code="no-sample-data",
            remedy="give a dry recording of your own with --dry",
        )
    sound = open_recording(path, channel=None).sound
    if sound.n_frames > LONGEST_DRY_S * sound.sample_rate_hz:
        raise RoomirError(
            f"{path} lasts longer than {LONGEST_DRY_S:g} s",
            code="too-long-to-hear",
            remedy="cut out the half minute that tells most",
        )
    samples = sound.stretch(start=0, stop=sound.n_frames).astype(np.float64).mean(axis=1)
    return samples, sound.sample_rate_hz


def _eight(expected: Expected) -> list[float]:
    """Decay times for all eight octaves: the outer ones take their neighbour's where nobody knows."""
    known = dict(zip(expected.octaves, map(float, expected.decay_time_s), strict=True))
    lowest, highest = min(known), max(known)
    return [known.get(i, known[lowest] if i < lowest else known[highest]) for i in range(8)]


def _equally_loud(parts: Sequence[Floats], *, rate_hz: int) -> tuple[Floats, float]:
    """Put sounds one after the other at one loudness, as loud as fits."""
    import numpy as np
    from pyloudnorm import Meter

    meter = Meter(rate_hz)
    try:
        loudness = [float(meter.integrated_loudness(part)) for part in parts]
    except ValueError as error:
        raise RoomirError(
            "the dry sound is too short for a loudness",
            code="nothing-to-hear",
            remedy="take one of some seconds",
        ) from error
    if not all(np.isfinite(loudness)):
        raise RoomirError(
            "the dry sound is too faint for a loudness", code="nothing-to-hear", remedy="take a louder one"
        )
    matched = [part * 10.0 ** (-one / 20.0) for part, one in zip(parts, loudness, strict=True)]
    common = 0.89 / max(float(np.abs(part).max()) for part in matched)
    silence = np.zeros(round(0.6 * rate_hz))
    joined = [piece for part in matched for piece in (part * common, silence)]
    return np.concatenate(joined[:-1]), float(20.0 * np.log10(common))


def heard_json(heard: Heard) -> str:
    """Write what was heard as the document ``roomir/heard/1``."""
    from roomir.bands.band import OCTAVES
    from roomir.report.planning.tables import dumped, number, numbers

    return dumped(
        {
            "schema": "roomir/heard/1",
            "path": heard.path,
            "parts": list(heard.parts),
            "loudness_lufs": number(heard.loudness_lufs),
            "distance_m": number(heard.distance_m),
            "directivity": number(heard.directivity),
            "seed": heard.seed,
            "octaves_hz": [band.nominal_hz for band in OCTAVES],
            "responses": [
                {"asked_s": numbers(response.asked_s), "read_s": numbers(response.read_s)}
                for response in heard.responses
            ],
        }
    )
