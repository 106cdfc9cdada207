"""May this number be trusted: verdicts, with the reason and the remedy in plain words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from roomir.bands.band import Band
from roomir.remarks import Remark

RELIABLE_RANGE_DB = 35.0
RELIABLE_HALF_WIDTH = 0.10
RELIABLE_BT = 16.0
"""ISO 3382-2:2008, 7.3: B T > 16 for filters run forwards; kept for filters run backwards too."""
RELIABLE_CURVATURE_PERCENT = 10.0
"""ISO 3382-2:2008, B.3: above 10 % the decay is far from straight."""
INDICATIVE_RANGE_DB = 25.0
INDICATIVE_HALF_WIDTH = 0.25
INDICATIVE_BT = 4.0
"""ISO 3382-2:2008, 7.3, for filters run backwards."""

STRAIGHT_RANGE_DB = 45.0
"""With less a second slope inside the -5 to -35 dB of the decay time could go unseen."""
SUSPECTED_GAIN = 1.0
"""Log-likelihood gained by a second slope from which it is suspected, though not proven."""
CUT_OFF_MATTERS_DB = 55.0
"""A decay that can be followed further is read no deeper; where it ends does not matter then."""
NEIGHBOUR_RATIO = 1.5
"""An octave that rings this many times longer leaks enough to bend the decay of the next."""
LEAKAGE_DB = 5.0
"""A second slope starting further down may be the leak of a neighbour that starts as loud: the
filter holds white sound 17 dB down, and octaves that pass gradually into one another hold less."""
LEAKAGE_LIKE = 1.3

DISAGREEING = 0.25
"""Part by which a straight decay and its T20 may differ before neither is trusted."""

LONGEST_DECAY_S = 30.0
"""No room that a clap fills rings for longer: what seems to is a fault of the recording. [s]"""

ENOUGH_SPOTS, ENOUGH_SPOTS_IN_WORDS = 4, "four"
"""Spots from which their scatter is seen."""

WITHHOLD_RANGE_DB = 10.0
WITHHOLD_HALF_WIDTH = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What a verdict rests on.

    Attributes
    ----------
    band : Band
        The band.
    decay_range_db : float
        Level of the decay over the background. [dB]
    relative_half_width : float
        Half the room's interval over the decay time.
    bt : float
        Bandwidth times decay time.
    curvature_percent : float or None
        Where T20 and T30 are there.
    slopes : int
        Number of slopes found.
    slope_times_s : tuple of float
        Decay time of each. [s]
    second_slope_gain : float
        Log-likelihood that a second slope gains or would gain.
    cut_off : bool
        The decay ends with the recording, or with the next event, before it has sunk into the background.
    neighbour : tuple of (Band, float) or None
        A neighbouring octave that rings so much longer that it leaks in, and its decay time.
    time_over_t20 : float
        Decay time over T20; 1 where there is no T20.
    spots : int
        Spots that were clapped in.
    concerns : tuple of Remark
        Faults of the recording that strike this band.
    """

    band: Band
    decay_range_db: float
    relative_half_width: float
    bt: float
    curvature_percent: float | None
    slopes: int
    slope_times_s: tuple[float, ...]
    second_slope_gain: float
    cut_off: bool
    neighbour: tuple[Band, float] | None
    time_over_t20: float = 1.0
    spots: int = 1
    concerns: tuple[Remark, ...] = ()


def judge(evidence: Evidence) -> tuple[str, tuple[Remark, ...]]:
    """Give the verdict of one band and every reason why it is not better.

    Returns
    -------
    (str, tuple of Remark)
        ``"reliable"``, ``"indicative"`` or ``"unusable"``, and the reasons.
    """
    against_reliable: list[Remark] = []
    against_indicative: list[Remark] = []
    _judge_range(evidence, against_reliable, against_indicative)
    _judge_interval(evidence, against_reliable, against_indicative)
    _judge_bt(evidence, against_reliable, against_indicative)
    time_s = evidence.bt / evidence.band.width_hz
    if time_s > LONGEST_DECAY_S:
        against_indicative.append(
            Remark(
                code="longer-than-any-room",
                says=f"at {hear(evidence.band)} what was recorded would ring for {time_s:.0f} s,"
                " as no room does",
                remedy="the file may be damaged, or the recorder changed its level: record again",
            )
        )
    against_reliable += _judge_shape(evidence)
    against_reliable += evidence.concerns
    remarks = (*against_indicative, *against_reliable, *_withheld(evidence))
    if against_indicative:
        return "unusable", remarks
    return ("indicative" if against_reliable else "reliable"), remarks


def hear(band: Band) -> str:
    """Name a band inside a sentence."""
    return f"{band.nominal_hz / 1000:g} kHz" if band.nominal_hz >= 1000 else f"{band.nominal_hz:g} Hz"


MORE_RANGE = (
    "switch fans and heaters off, clap harder or nearer to the phone, or pop a balloon"
    " (with hearing protection)"
)
"""How to get more decay above the background."""


def floored(value: float) -> str:
    """Write a number with one decimal so that it never reads as more than is there."""
    return f"{math.floor(value * 10.0) / 10.0:.1f}"


def _judge_range(evidence: Evidence, reliable: list[Remark], indicative: list[Remark]) -> None:
    visible_db = evidence.decay_range_db
    if visible_db >= RELIABLE_RANGE_DB:
        return
    too_little = visible_db < INDICATIVE_RANGE_DB
    needs_db = INDICATIVE_RANGE_DB if too_little else RELIABLE_RANGE_DB
    use = "any use" if too_little else "full trust"
    if evidence.cut_off:
        remark = _cut_off(
            evidence.band, says_range=f"after {floored(visible_db)} dB, {use} needs {needs_db:.0f}"
        )
    else:
        remark = Remark(
            code="range-too-small",
            says=f"at {hear(evidence.band)} the decay is visible for {floored(visible_db)} dB,"
            f" {use} needs {needs_db:.0f}",
            remedy=MORE_RANGE,
        )
    (indicative if too_little else reliable).append(remark)


def _cut_off(band: Band, *, says_range: str) -> Remark:
    return Remark(
        code="decay-cut-off",
        says=f"at {hear(band)} the recording or the next sound cuts the decay off {says_range}",
        remedy="let the room fall silent after each clap, and record for some seconds longer",
    )


def _judge_interval(evidence: Evidence, reliable: list[Remark], indicative: list[Remark]) -> None:
    half = evidence.relative_half_width
    if half <= RELIABLE_HALF_WIDTH:
        return
    too_wide = half > INDICATIVE_HALF_WIDTH
    limit = INDICATIVE_HALF_WIDTH if too_wide else RELIABLE_HALF_WIDTH
    wide = f"{math.ceil(1000.0 * half - 1e-9) / 10.0:.1f}" if half < 2.0 * limit else f"{100 * half:.0f}"
    known = f"only to within {wide} %" if half < 1.0 else "not even to within a factor of two"
    more = f"more spots than these {evidence.spots}" if evidence.spots >= ENOUGH_SPOTS else "more spots"
    of = "" if evidence.spots >= ENOUGH_SPOTS else f" of at least {ENOUGH_SPOTS_IN_WORDS}"
    remark = Remark(
        code="interval-too-wide",
        says=f"at {hear(evidence.band)} the time is known {known},"
        f" {'any use' if too_wide else 'full trust'} needs {100 * limit:.0f} %",
        remedy=f"clap in {more}: one or two claps in each{of}",
    )
    (indicative if too_wide else reliable).append(remark)


def _judge_bt(evidence: Evidence, reliable: list[Remark], indicative: list[Remark]) -> None:
    if evidence.bt >= RELIABLE_BT:
        return
    too_short = evidence.bt < INDICATIVE_BT
    remark = Remark(
        code="shorter-than-the-filter",
        says=f"at {hear(evidence.band)} the decay is hardly longer than the band filter's own"
        f" (BT {floored(evidence.bt)}, full trust needs {RELIABLE_BT:.0f})",
        remedy="trust the bands above: the filter of a band this low cannot show so short a decay",
    )
    (indicative if too_short else reliable).append(remark)


def _judge_shape(evidence: Evidence) -> list[Remark]:
    out = []
    name = hear(evidence.band)
    curvature = evidence.curvature_percent
    if evidence.neighbour is not None:
        other, time_s = evidence.neighbour
        out.append(
            Remark(
                code="neighbour-rings-longer",
                says=f"the octave at {hear(other)} rings for {time_s:.2f} s,"
                f" and some of it leaks into {name}",
                remedy=f"treat {hear(other)} first, then read {name} again",
            )
        )
    elif evidence.slopes == 2:
        first_s, second_s = evidence.slope_times_s
        if evidence.decay_range_db < STRAIGHT_RANGE_DB:
            out.append(
                Remark(
                    code="two-slopes-little-range",
                    says=f"at {name} the decay bends ({first_s:.2f} s, then {second_s:.2f} s), and"
                    f" {floored(evidence.decay_range_db)} dB show too little of the second slope",
                    remedy=MORE_RANGE,
                )
            )
    elif evidence.decay_range_db < STRAIGHT_RANGE_DB and evidence.second_slope_gain > SUSPECTED_GAIN:
        out.append(
            Remark(
                code="bend-suspected",
                says=f"at {name} the decay may bend towards a slower one below the"
                f" {floored(evidence.decay_range_db)} dB that can be seen",
                remedy=MORE_RANGE,
            )
        )
    if curvature is not None and curvature > RELIABLE_CURVATURE_PERCENT and evidence.neighbour is None:
        out.append(
            Remark(
                code="decay-curved",
                says=f"at {name} the late decay is {curvature:.0f} % slower than the early one",
                remedy="look for a door to another room, or bare parallel walls; quote both slopes",
            )
        )
    if abs(evidence.time_over_t20 - 1.0) > DISAGREEING and evidence.slopes == 1:
        out.append(
            Remark(
                code="figures-disagree",
                says=f"at {name} the fitted decay is {evidence.time_over_t20:.2f} times T20:"
                " the background changes, or the decay is no decay",
                remedy="record again in steady silence, some seconds before and after each clap",
            )
        )
    if evidence.cut_off and CUT_OFF_MATTERS_DB > evidence.decay_range_db >= RELIABLE_RANGE_DB:
        out.append(_cut_off(evidence.band, says_range="before it has sunk into the background"))
    return out


def _withheld(evidence: Evidence) -> list[Remark]:
    """Say which of the standard's figures are missing, with what is there and what they need."""
    out = []
    for name, needs_db in (("T20", 35.0), ("T30", 45.0)):
        if evidence.decay_range_db < needs_db:
            out.append(
                Remark(
                    code=f"{name.lower()}-withheld",
                    says=f"{name} needs {needs_db:.0f} dB, {floored(evidence.decay_range_db)} are there",
                    remedy=MORE_RANGE,
                )
            )
    if evidence.slopes == 1 and evidence.decay_range_db < STRAIGHT_RANGE_DB:
        out.append(
            Remark(
                code="later-decay-hidden",
                says=f"a slower decay more than {floored(evidence.decay_range_db)} dB down would be hidden",
                remedy="",
            )
        )
    return out


def no_decay(band: Band) -> tuple[str, tuple[Remark, ...]]:
    """Verdict of a band in which nothing rises out of the background."""
    weak = "hands hold little sound this low: " if band.nominal_hz <= 250 else ""
    return "unusable", (
        Remark(
            code="no-decay",
            says=f"at {hear(band)} no decay stands out of the background",
            remedy=weak + MORE_RANGE,
        ),
    )


def not_carried(band: Band, *, rates_hz: Sequence[int]) -> tuple[str, tuple[Remark, ...]]:
    """Verdict of a band that lies beyond the sampling rate of every take."""
    return "unusable", (
        Remark(
            code="rate-too-low",
            says=f"{hear(band)} reaches up to {band.high_hz:.0f} Hz, more than"
            f" {max(rates_hz, default=0)} samples a second can carry",
            remedy="record at 44100 or 48000 samples a second",
        ),
    )
