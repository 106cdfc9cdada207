"""What limits a comparison: one remark each, with what to do about it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from roomir.compare.change import BandChange, Climate, on_both_sides
from roomir.compare.positions import Matches
from roomir.decay.combine import LEAST_SPOTS
from roomir.reading.reading import Reading
from roomir.reading.trust import hear
from roomir.remarks import Remark

SOURCES_DIFFER_DB = 10.0
"""How far apart the balance of bass and treble of two sources may be: hand claps of one phone lie within
6 dB of each other, panels included, while a balloon's pop is 20 to 35 dB duller (sample and real takes)."""

_SAME_SOURCE = (
    "clap or pop on both sides: sources throw sound in different directions, which shows most in the treble"
)
_BASS_HZ = 250.0
_TREBLE_HZ = 4000.0


def guards_of(
    before: Reading,
    after: Reading,
    *,
    bands: Sequence[BandChange],
    volume_m3: float | None,
    climates: tuple[Climate, Climate],
    matches: Matches | None,
    made_with: tuple[Sequence[str], Sequence[str]] = ((), ()),
) -> tuple[Remark, ...]:
    """Collect everything that limits a comparison, most serious first."""
    found = [
        _band_sets(before, after),
        _same_sound(before, after),
        *_faults(before, after),
        _sources(before, after, made_with=made_with),
        _few_spots(before, after),
        _positions(matches, bands=bands),
        _one_side(bands),
        _unusable(bands),
        _versions(before, after),
        *_absorption(volume_m3, climates=climates),
    ]
    return tuple(remark for remark in found if remark is not None)


def _band_sets(before: Reading, after: Reading) -> Remark | None:
    if not before.bands or not after.bands or before.band_set == after.band_set:
        return None
    return Remark(
        code="band-sets-differ",
        says=f"before was read in {before.band_set} bands and after in {after.band_set} bands",
        remedy="read both sides again with the same --bands",
    )


def _same_sound(before: Reading, after: Reading) -> Remark | None:
    twice = on_both_sides(before, after)
    if not twice:
        return None
    return Remark(
        code="same-recording-on-both-sides",
        says=f"the same sound stands on both sides: {', '.join(twice)}",
        remedy="name the recordings of each state on its own side only",
    )


def _faults(before: Reading, after: Reading) -> list[Remark]:
    sides = {"before": _concerns(before), "after": _concerns(after)}
    out = []
    for side, other in (("before", "after"), ("after", "before")):
        only = {code: says for code, says in sides[side].items() if code not in sides[other]}
        if only:
            out.append(
                Remark(
                    code="fault-on-one-side",
                    says=f"only the recordings {side} have a fault: {'; '.join(only.values())}",
                    remedy="record that side again without it, or take the change with care",
                )
            )
    return out


def _concerns(reading: Reading) -> dict[str, str]:
    remarks = [remark for take in reading.takes for remark in take.concerns]
    return {remark.code: remark.says for remark in reversed(remarks)}


def _sources(
    before: Reading, after: Reading, *, made_with: tuple[Sequence[str], Sequence[str]]
) -> Remark | None:
    told = [sorted({one.strip().casefold() for one in side if one.strip()}) for side in made_with]
    if told[0] and told[1] and told[0] != told[1]:
        return Remark(
            code="sources-differ",
            says=f"the sounds were made with {', '.join(told[0])} before and with {', '.join(told[1])} after",
            remedy=_SAME_SOURCE,
        )
    balances = [_balance_db(reading) for reading in (before, after)]
    if balances[0] is None or balances[1] is None:
        return None
    apart_db = balances[1] - balances[0]
    if abs(apart_db) <= SOURCES_DIFFER_DB:
        return None
    which = "duller" if apart_db > 0 else "brighter"
    return Remark(
        code="sources-differ",
        says=f"the room was struck by another sound after than before: {abs(apart_db):.0f} dB {which}"
        " between 250 Hz and 4 kHz, as a balloon against hands",
        remedy=_SAME_SOURCE,
    )


def _balance_db(reading: Reading) -> float | None:
    """Level of the source at 250 Hz over 4 kHz; what the room adds to it is taken off. [dB]"""
    levels = {}
    for one in reading.bands:
        figures = one.figures
        if figures.level_dbfs is not None and figures.decay_time_s is not None:
            levels[figures.band.nominal_hz] = figures.level_dbfs - 10.0 * math.log10(figures.decay_time_s)
    if _BASS_HZ not in levels or _TREBLE_HZ not in levels:
        return None
    return levels[_BASS_HZ] - levels[_TREBLE_HZ]


def _few_spots(before: Reading, after: Reading) -> Remark | None:
    few = {
        side: most
        for side, reading in (("before", before), ("after", after))
        if 0 < (most := max((band.spots for band in reading.bands), default=0)) < LEAST_SPOTS
    }
    if not few:
        return None
    spots = " and ".join(f"{n} {'spot' if n == 1 else 'spots'} {side}" for side, n in few.items())
    return Remark(
        code="few-spots-compared",
        says=f"{spots}: how much the room differs from place to place is assumed there, not heard",
        remedy="clap in at least four spots on each side",
    )


def _positions(matches: Matches | None, *, bands: Sequence[BandChange]) -> Remark | None:
    if matches is None:
        return None
    paired = any(band.positions for band in bands)
    if not paired:
        return Remark(
            code="positions-do-not-match",
            says=f"{len(matches.pairs)} positions bear the same name on both sides, and pairs need"
            f" {LEAST_SPOTS}: the sides were compared as spots of their own",
            remedy="give a position the same name on both sides: spot1, spot2, ...",
        )
    if matches.alone:
        return Remark(
            code="positions-do-not-match",
            says=f"only one side has {', '.join(matches.alone)}: left out of the pairs",
            remedy="record every position on both sides, one recording each",
        )
    return None


def _one_side(bands: Sequence[BandChange]) -> Remark | None:
    names = [
        hear(one.band)
        for one in bands
        if (one.before.decay_time_s is None) != (one.after.decay_time_s is None)
    ]
    if not names:
        return None
    return Remark(
        code="band-on-one-side",
        says=f"{', '.join(names)}: only one side has a decay time",
        remedy="record the other side again with more range: less background, more level",
    )


def _unusable(bands: Sequence[BandChange]) -> Remark | None:
    names = [hear(one.band) for one in bands if one.p_value is not None and not one.usable]
    if not names:
        return None
    return Remark(
        code="unusable-side",
        says=f"{', '.join(names)}: unusable on one side, so left out of the headline",
        remedy="see the reading of that side for what it needs",
    )


def _versions(before: Reading, after: Reading) -> Remark | None:
    if before.roomir_version == after.roomir_version:
        return None
    return Remark(
        code="versions-differ",
        says=f"before was read by version {before.roomir_version}, after by {after.roomir_version}",
        remedy="read both again with this version",
    )


def _absorption(volume_m3: float | None, *, climates: tuple[Climate, Climate]) -> list[Remark]:
    if volume_m3 is None:
        return [
            Remark(
                code="no-room-size",
                says="without the room's size the absorption that was added is not known",
                remedy="give --volume or --dimensions",
            )
        ]
    out = []
    if any(one.temperature_c is None for one in climates):
        where = _sides_without([one.temperature_c for one in climates])
        out.append(
            Remark(
                code="temperature-assumed",
                says=f"no temperature was written down{where}: 20 degC is taken for the speed of sound",
                remedy="write temperature and humidity down with each stage",
            )
        )
    if any(one.humidity_percent is None for one in climates):
        where = _sides_without([one.humidity_percent for one in climates])
        out.append(
            Remark(
                code="air-taken-alike",
                says=f"no humidity was written down{where}: the air is taken to absorb alike before and"
                " after, which matters from 4 kHz up",
            )
        )
    return out


def _sides_without(values: Sequence[float | None]) -> str:
    missing = [side for side, value in zip(("before", "after"), values, strict=True) if value is None]
    return f" {missing[0]}" if len(missing) == 1 else ""
