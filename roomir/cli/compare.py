"""``roomir compare``: one state of a room against another."""

from __future__ import annotations

import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated

import typer

from roomir import api
from roomir.api import Progress
from roomir.audio.groups import files_of
from roomir.cli import show
from roomir.cli.options import (
    BandSet,
    DebugOption,
    DimensionsOption,
    LogbookOption,
    MaybeRoomOption,
    TargetOption,
    Units,
    UnitsOption,
    VolumeOption,
    room_size,
)
from roomir.compare.change import Climate, Comparison
from roomir.errors import ParameterError, RoomirError
from roomir.reading.reading import Reading
from roomir.report.changes import comparison_view
from roomir.report.comparison_document import comparison_document
from roomir.report.comparison_text import render_comparison
from roomir.report.document import as_json_text
from roomir.report.near_far_words import (
    audition_document,
    audition_says,
    near_far_document,
    near_far_says,
)
from roomir.report.unit_system import UNIT_SYSTEMS
from roomir.units import parse_length_m


def compare(
    *,
    before: Annotated[
        str,
        typer.Argument(
            metavar="BEFORE",
            help="A recording, a folder of recordings, a pattern in quotes ('bare_*.m4a'), or a stage.",
        ),
    ],
    after: Annotated[str, typer.Argument(metavar="AFTER", help="The same for the room as it was later.")],
    room: MaybeRoomOption = None,
    paired: Annotated[
        bool,
        typer.Option(
            "--paired",
            help=(
                "Compare position by position: the files are named after the same positions on both sides"
                " (spot1, spot2, ...)."
            ),
        ),
    ] = False,
    volume: VolumeOption = None,
    dimensions: DimensionsOption = None,
    bands: Annotated[
        BandSet, typer.Option(help="Bands to read; thirds need longer decays.")
    ] = BandSet.OCTAVE,
    target: TargetOption = None,
    units: UnitsOption = Units.METRIC,
    full: Annotated[bool, typer.Option("--full", help="Show every quantity of both sides.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the comparison as JSON and nothing else.")
    ] = False,
    figure: Annotated[
        Path | None,
        typer.Option(
            "--figure",
            metavar="FILE",
            help="Also draw both decay times and the changes; FILE ends in .png, .svg or .pdf.",
        ),
    ] = None,
    hear: Annotated[
        Path | None,
        typer.Option(
            "--hear",
            metavar="FILE.wav",
            help="Also write the same clap (or the same chords) before and after, equally loud, to hear.",
        ),
    ] = None,
    near_m: Annotated[
        str | None,
        typer.Option(
            "--near-m",
            metavar="D",
            help="BEFORE was recorded this near to the source, and AFTER as far as --far-m, at the same gain:"
            " does its level fall as the room's decay time says?",
        ),
    ] = None,
    far_m: Annotated[
        str | None, typer.Option("--far-m", metavar="D", help="Distance of AFTER from the source.")
    ] = None,
    logbook: LogbookOption = None,
    debug: DebugOption = False,
) -> None:
    """Compare a room before and after: what changed in each band, and how sure that is.

    With --room, BEFORE and AFTER are stages of that room in the logbook; what
    begins with ./ is a path all the same.

    Record at least four spots in each state. With --volume or --dimensions
    you also learn how much absorption was added.

    Leaves with 0 after a comparison, 1 if there is none or a file failed
    (the others are compared all the same), 2 if called wrongly.
    """
    del debug  # main() looks for it where every error ends up.
    volume_m3, _ = room_size(volume, dimensions)
    if target is not None and room is None:
        api.check_target(target, volume_m3=volume_m3)  # before anything is read for it
    distances_m = _distances_m(near_m, far_m)
    if hear is not None:
        _refuse_to_hear(hear)
    named = [None if room is None or _is_path(one) else one for one in (before, after)]
    files = [
        [] if stage is not None else files_of(one) for stage, one in zip(named, (before, after), strict=True)
    ]
    if figure is not None:
        _refuse_to_draw_over(figure, takes=[take for side in files for take in side])
    with show.progress() as progress:
        sides = [
            _stage(room, stage, logbook=logbook, progress=progress)
            if room is not None and stage is not None
            else _Side(
                reading=api.read(takes, bands=bands.value, progress=progress),
                sources=tuple(map(api.Source, takes)),
            )
            for stage, takes in zip(named, files, strict=True)
        ]
    if bands is not BandSet.OCTAVE:
        _refuse_other_bands(sides, named=named, wanted=bands)
    if volume_m3 is None:
        volume_m3 = next((side.volume_m3 for side in sides if side.volume_m3 is not None), None)
    if target is not None:
        api.check_target(target, volume_m3=volume_m3)
    readings = [side.reading for side in sides]
    comparison = api.compare_readings(
        *readings,
        paired=paired,
        volume_m3=volume_m3,
        positions=_positions(sides),
        climates=(sides[0].climate, sides[1].climate),
        made_with=(sides[0].made_with, sides[1].made_with),
    )
    aims = (
        () if target is None else tuple(api.aim(one, target=target, volume_m3=volume_m3) for one in readings)
    )
    falls = None
    if distances_m is not None:
        falls = api.near_far(
            *readings,
            near_paths=sides[0].sources,
            far_paths=sides[1].sources,
            near_m=distances_m[0],
            far_m=distances_m[1],
            volume_m3=volume_m3,
        )
    heard, silent = None, None
    if hear is not None:
        try:
            heard = api.hear(comparison, before=sides[0].sources, after=sides[1].sources, path=hear)
        except RoomirError as error:  # the comparison is worth showing all the same
            silent = error
    view = comparison_view(comparison, units=UNIT_SYSTEMS[units.value], aims=aims)
    if as_json:
        found = comparison_document(comparison, aims=aims)
        found["near_far"] = None if falls is None else near_far_document(falls)
        found["hear"] = None if heard is None else audition_document(heard, path=str(hear))
        show.out(as_json_text(found) + "\n")
    else:
        show.out(render_comparison(view, full=full, colour=show.colour_wanted(sys.stdout)))
        more = () if falls is None else near_far_says(falls)
        more = more if heard is None else (*more, audition_says(heard, path=str(hear)))
        for said in more:
            show.out("\n")
            show.paragraph(said)
    for line in view.failures:
        show.line(line)
    if figure is not None:
        show.silence_matplotlib()
        api.save_figure(api.draw_comparison(comparison, units=units.value), figure)
    if silent is not None:
        show.fault(silent)
    raise typer.Exit(1 if silent is not None else exit_status(comparison))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Side:
    """One side of the comparison: from files, or from the logbook with what is known there."""

    reading: Reading
    sources: tuple[api.Source, ...]
    positions: tuple[str | None, ...] | None = None
    climate: Climate = field(default_factory=Climate)
    made_with: tuple[str, ...] = ()
    volume_m3: float | None = None


def _is_path(text: str) -> bool:
    """Whether a path is meant although a room is named: it begins like one."""
    return text.startswith(("./", "../", "/", "~", ".\\")) or Path(text).is_absolute()


def _stage(room: str, stage: str, *, logbook: Path | None, progress: Progress | None) -> _Side:
    with api.open_logbook(logbook) as book:
        tell = None if progress is None else lambda doing, part: progress(1, 1, stage, doing, part)
        found = api.stage_in(book, room=room, stage=stage, tell=tell)
        takes = book.takes(of=book.stage(book.room(room), stage))
        return _Side(
            reading=found.reading,
            sources=tuple(api.Source(book.recording(take), name=take.name) for take in takes),
            positions=found.positions,
            climate=found.climate,
            made_with=found.sources,
            volume_m3=book.room(room).volume_m3,
        )


def _refuse_other_bands(sides: list[_Side], *, named: list[str | None], wanted: BandSet) -> None:
    """A stage was read when it was logged, in the bands of that day."""
    for stage, side in zip(named, sides, strict=True):
        if stage is not None and side.reading.band_set != wanted.value:
            raise ParameterError(
                f'the stage "{stage}" was logged in {side.reading.band_set} bands, not {wanted.value}',
                code="stage-in-other-bands",
                remedy="leave --bands out, or compare the recordings themselves",
            )


def _positions(sides: list[_Side]) -> tuple[tuple[str | None, ...], tuple[str | None, ...]] | None:
    """Names of the positions, where the logbook has some on both sides."""
    known = [side.positions for side in sides if side.positions is not None and any(side.positions)]
    return (known[0], known[1]) if len(known) == 2 else None


def _refuse_to_draw_over(figure: Path, *, takes: list[Path]) -> None:
    api.figure_format(figure)
    if figure.exists() and any(take.exists() and take.samefile(figure) for take in takes):
        raise typer.BadParameter(f"{figure} is one of the recordings", param_hint="--figure")


def _distances_m(near_m: str | None, far_m: str | None) -> tuple[float, float] | None:
    if (near_m is None) != (far_m is None):
        raise typer.BadParameter("give both --near-m and --far-m", param_hint="--near-m")
    if near_m is None or far_m is None:
        return None
    return parse_length_m(near_m), parse_length_m(far_m)


def _refuse_to_hear(hear: Path) -> None:
    if hear.suffix.lower() != ".wav":
        raise typer.BadParameter(f"{hear} does not end in .wav", param_hint="--hear")
    if hear.exists():  # it may be a recording, and those cannot be made again
        raise typer.BadParameter(f"{hear} exists and will not be overwritten", param_hint="--hear")


def exit_status(comparison: Comparison) -> int:
    """Tell a script how it went: 0 with a change in some band and something read from every file, else 1."""
    compared = any(one.change_s is not None for one in comparison.bands)
    return 0 if compared and not (comparison.before.failures or comparison.after.failures) else 1
