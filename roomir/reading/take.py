"""From recordings to a reading: claps, bands, fits, verdicts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from roomir import __version__
from roomir.audio.recording import Recording
from roomir.bands.band import BAND_SETS, Band, carries
from roomir.bands.filters import BandFilter
from roomir.claps.clap import Clap
from roomir.claps.find import find_claps
from roomir.claps.listening import with_listening_lengths
from roomir.decay.band_fit import fit_bands
from roomir.decay.heard import HeardClap
from roomir.decay.spots import find_spots
from roomir.faults.fault import Fault, concerns_of, remarks_of
from roomir.faults.in_decays import inspect_decays
from roomir.faults.in_sound import inspect_sounds
from roomir.findings.find import find
from roomir.findings.findings import RoomFindings
from roomir.reading import trust
from roomir.reading.clap_figures import clap_figures
from roomir.reading.listen import hear_claps
from roomir.reading.reading import BandFigures, ClapReading, Failure, Reading, TakeReading
from roomir.reading.room_figures import room_bands
from roomir.reading.single_numbers import bass_ratio, mid_figures
from roomir.remarks import Remark


def take_reading(
    recordings: Sequence[Recording],
    *,
    failures: Sequence[Failure] = (),
    band_set: str = "octave",
    with_evidence: bool = False,
    dimensions_m: tuple[float, float, float] | None = None,
) -> Reading:
    """Read the decay of one room in one state.

    Parameters
    ----------
    recordings : sequence of Recording
        The takes.
    failures : sequence of Failure
        Files that could not be opened, to be kept in the reading.
    band_set : str
        Name of the bands to read: a key of ``BAND_SETS``.
    with_evidence : bool
        Whether the reading keeps what pictures of its decays need.
    dimensions_m : (float, float, float), optional
        Length, width and height of the room, for its modes and its pairs of walls. [m]

    Returns
    -------
    Reading
        Without bands where no clap could be used.
    """
    found = [find_claps(recording.sound) for recording in recordings]
    return read_claps(
        recordings,
        found,
        failures=failures,
        band_set=band_set,
        with_evidence=with_evidence,
        dimensions_m=dimensions_m,
    )


def read_claps(
    recordings: Sequence[Recording],
    found: Sequence[Sequence[Clap]],
    *,
    failures: Sequence[Failure] = (),
    band_set: str = "octave",
    with_evidence: bool = False,
    dimensions_m: tuple[float, float, float] | None = None,
) -> Reading:
    """Read recordings whose claps are known; as :func:`take_reading` otherwise.

    Parameters
    ----------
    found : sequence of sequence of Clap
        The candidates of each recording, in time order.
    """
    bands = BAND_SETS[band_set]
    filters = tuple(BandFilter(band) for band in bands)
    listened = [
        with_listening_lengths(recording.sound, claps)
        for recording, claps in zip(recordings, found, strict=True)
    ]
    faults, found = inspect_sounds(recordings, listened, bands=bands)
    heard = hear_claps(recordings, found, filters=filters)
    fits = fit_bands([h.traces for h in heard], filters=filters) if heard else (None,) * len(filters)
    in_decays, no_claps = inspect_decays(recordings, found, heard, fits)
    if no_claps:
        return read_claps(
            recordings,
            _without(listened, no_claps),
            failures=failures,
            band_set=band_set,
            with_evidence=with_evidence,
            dimensions_m=dimensions_m,
        )
    faults = (*faults, *in_decays)
    spot = find_spots([fit for fit in fits if fit is not None], n_claps=len(heard))
    clap_bands, evidence = clap_figures(
        fits,
        filters=filters,
        heard=heard,
        recordings=recordings,
        faults=faults,
        with_evidence=with_evidence,
    )
    over_all = (
        room_bands(
            fits,
            spot=spot,
            clap_bands=clap_bands,
            bands=bands,
            heard=heard,
            recordings=recordings,
            faults=faults,
        )
        if heard
        else ()
    )
    takes = tuple(
        _take(
            recording,
            claps,
            take=i,
            heard=heard,
            clap_bands=clap_bands,
            bands=bands,
            faults=[fault for fault in faults if fault.take == i],
        )
        for i, (recording, claps) in enumerate(zip(recordings, found, strict=True))
    )
    return Reading(
        roomir_version=__version__,
        band_set=band_set,
        takes=takes,
        failures=(*failures, *_without_clap(recordings, found)),
        bands=over_all,
        mid=mid_figures(over_all),
        bass_ratio=bass_ratio(over_all),
        findings=find(
            recordings,
            found,
            heard,
            fits,
            spot=spot,
            slopes=[room_band.figures.slopes for room_band in over_all],
            dimensions_m=dimensions_m,
        )
        if heard
        else RoomFindings(),
        evidence=tuple(evidence),
    )


def _without(found: Sequence[Sequence[Clap]], no_claps: Mapping[tuple[int, int], Remark]) -> list[list[Clap]]:
    """Set events aside that turned out to be no claps, by take and place."""
    return [
        [
            replace(clap, set_aside_because=no_claps.get((take, place), clap.set_aside_because))
            for place, clap in enumerate(claps)
        ]
        for take, claps in enumerate(found)
    ]


def _take(
    recording: Recording,
    claps: Sequence[Clap],
    *,
    take: int,
    heard: Sequence[HeardClap],
    clap_bands: Sequence[Sequence[BandFigures]],
    bands: Sequence[Band],
    faults: Sequence[Fault],
) -> TakeReading:
    read = {h.place: figures for h, figures in zip(heard, clap_bands, strict=True) if h.take == take}
    return TakeReading(
        path=recording.source_name,
        sha256=recording.source_sha256,
        recorded_at=recording.recorded_at,
        recorded_at_from=recording.recorded_at_from,
        sample_rate_hz=recording.sound.sample_rate_hz,
        duration_s=recording.duration_s,
        channels=recording.sound.n_channels,
        concerns=concerns_of(fault for fault in faults if fault.place is None),
        notes=(
            *recording.notes,
            *_take_notes(recording, bands=bands),
            *remarks_of(fault for fault in faults if fault.is_note),
        ),
        claps=tuple(
            ClapReading(
                onset_s=clap.onset_s,
                stop_s=clap.stop_s,
                peak_dbfs=clap.peak_dbfs,
                set_aside_because=clap.set_aside_because,
                concerns=concerns_of(fault for fault in faults if fault.place == place),
                bands=tuple(read.get(place, ())),
            )
            for place, clap in enumerate(claps)
        ),
    )


def _take_notes(recording: Recording, *, bands: Sequence[Band]) -> list[Remark]:
    notes = []
    rate = recording.sound.sample_rate_hz
    lost = [trust.hear(band) for band in bands if not carries(band, sample_rate_hz=rate)]
    if lost:
        notes.append(
            Remark(
                code="rate-too-low",
                says=f"{rate} samples a second cannot carry {', '.join(lost)}",
                remedy="record at 44100 or 48000 samples a second",
            )
        )
    return notes


def _without_clap(recordings: Sequence[Recording], found: Sequence[Sequence[Clap]]) -> list[Failure]:
    """Name the takes in which nothing could be used: they open, but give no reading."""
    out = []
    for recording, claps in zip(recordings, found, strict=True):
        if any(clap.used for clap in claps):
            continue
        heard = f"; of {len(claps)} sounds none is a clap with a free decay" if claps else ""
        out.append(
            Failure(
                path=recording.source_name,
                code="no-clap-found",
                says=f"{recording.source_name}: no clap was found{heard}",
                remedy="in silence, clap once hard, wait until the room is quiet, and clap again",
            )
        )
    return out
