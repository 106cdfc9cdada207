"""A reading against a target, in words and as a document; and the list of targets."""

from __future__ import annotations

import json

from roomir.bands.band import OCTAVES
from roomir.compare.aim import Aim, BandAim
from roomir.report.document import Document, interval, number, remark_document
from roomir.report.rounding import decimals_for, decimals_without_interval, rounded
from roomir.report.text import wrapped
from roomir.report.wording import band_name, band_names, said_and_done, sentence
from roomir.rooms.targets import Limits, Target

SCHEMA = "roomir/targets/1"
"""Name and version of the contract of the list."""

AIM_SIGNS = {"inside": "=", "too long": ">", "too short": "<", "undecided": "?", "no answer": "x"}
"""The sign beside a verdict; plain ASCII, as those of the trust."""


def limits_text(limits: Limits) -> str:
    """Write what a band has to keep within.

    Examples
    --------
    >>> limits_text(Limits(least_s=0.1, most_s=0.3)), limits_text(Limits(least_s=None, most_s=0.3))
    ('0.1 to 0.3 s', 'at most 0.3 s')
    """
    ends = [None if end is None else f"{end:.3g}" for end in (limits.least_s, limits.most_s)]
    if ends[0] is None or ends[1] is None:
        return f"at most {ends[1]} s" if ends[0] is None else f"at least {ends[0]} s"
    return f"{ends[0]} to {ends[1]} s"


def aim_says(aim: Aim) -> tuple[str, ...]:
    """Say how a reading stands against a target.

    Parameters
    ----------
    aim : Aim
        With bands, or with none that the target speaks of.

    Returns
    -------
    tuple of str
        The answer first, then one sentence for each kind of verdict, then what limits it.
    """
    if not aim.bands:
        return ("Nothing was read in the bands that this target speaks of.",)
    by_verdict: dict[str, list[BandAim]] = {}
    for one in aim.bands:
        by_verdict.setdefault(one.verdict, []).append(one)
    lines = [_answer(aim, by_verdict)]
    for verdict in ("too long", "too short"):
        off = "; ".join(_beyond(one) for one in by_verdict.get(verdict, []))
        if off:
            lines.append(sentence(f"{verdict}: {off}"))
    words = {
        "inside": "inside",
        "undecided": "undecided, since the interval reaches across a limit",
        "no answer": "no answer, since the reading is not usable there",
    }
    for verdict, said in words.items():
        if by_verdict.get(verdict):
            lines.append(sentence(f"{_names(aim, by_verdict[verdict])}: {said}"))
    lines.append(sentence(f"source of the target: {aim.target.source}"))
    return (*lines, *(said_and_done(remark) for remark in aim.remarks))


def _answer(aim: Aim, by_verdict: dict[str, list[BandAim]]) -> str:
    inside, of = len(by_verdict.get("inside", [])), len(aim.bands)
    state = "reached in all" if inside == of else f"reached in {inside} of"
    limits = [one.limits for one in aim.bands]
    within = f" ({limits_text(limits[0])})" if len(set(limits)) == 1 else ""
    return f"{aim.target.name}{within}: {state} {of} bands."


def _names(aim: Aim, members: list[BandAim]) -> str:
    return band_names([one.band for one in members], among=[one.band for one in aim.bands])


def _beyond(one: BandAim) -> str:
    assert one.off_s is not None
    assert one.ci95_s is not None
    decimals = min(decimals_for((one.ci95_s[1] - one.ci95_s[0]) / 2.0), 2)
    off = rounded(abs(one.off_s), decimals=max(decimals, decimals_without_interval(one.off_s)))
    return f"{band_name(one.band.nominal_hz)} by {off} s"


def aim_document(aim: Aim) -> Document:
    """Make the part of a document that stands for a reading against a target."""
    return {
        "name": aim.target.name,
        "source": aim.target.source,
        "volume_m3": number(aim.volume_m3),
        "bands": [
            {
                "centre_hz": one.band.nominal_hz,
                "least_s": number(one.limits.least_s),
                "most_s": number(one.limits.most_s),
                "decay_time_s": number(one.decay_time_s),
                "ci95_s": interval(one.ci95_s),
                "verdict": one.verdict,
                "off_s": number(one.off_s),
            }
            for one in aim.bands
        ],
        "remarks": [remark_document(remark) for remark in aim.remarks],
    }


# ------------------------------------------------------------------ the list


def targets_document(targets: tuple[Target, ...], *, volume_m3: float | None) -> Document:
    """Make the document of the list; limits are ``None`` where they need a volume that was not given."""
    return {
        "schema": SCHEMA,
        "volume_m3": number(volume_m3),
        "targets": [
            {
                "name": one.name,
                "use": one.use,
                "source": one.source,
                "common_practice": one.is_common_practice,
                "needs_volume": one.needs_volume,
                "volume_range_m3": interval(one.volume_m3),
                "bands": [
                    {
                        "centre_hz": band.nominal_hz,
                        "least_s": None if limits is None else number(limits.least_s),
                        "most_s": None if limits is None else number(limits.most_s),
                    }
                    for band in OCTAVES
                    if one.bands_hz[0] <= band.nominal_hz <= one.bands_hz[1]
                    for limits in [_limits(one, band_hz=band.nominal_hz, volume_m3=volume_m3)]
                ],
            }
            for one in targets
        ],
    }


def targets_json(targets: tuple[Target, ...], *, volume_m3: float | None) -> str:
    """Write the document of the list as JSON text."""
    return json.dumps(targets_document(targets, volume_m3=volume_m3), allow_nan=False, indent=1)


def targets_text(targets: tuple[Target, ...], *, volume_m3: float | None) -> str:
    """Lay out the list for a screen of eighty columns: what each asks for at 500 Hz, its use and source."""
    lines = []
    for one in targets:
        limits = _limits(one, band_hz=500.0, volume_m3=volume_m3)
        asks = "by the room's volume (--volume)" if limits is None else f"{limits_text(limits)} at 500 Hz"
        lines += [one.name]
        lines += wrapped(f"{asks}; {one.use}", first="  ", rest="  ")
        lines += wrapped(one.source, first="  ", rest="  ")
    return "\n".join(lines) + "\n"


def _limits(target: Target, *, band_hz: float, volume_m3: float | None) -> Limits | None:
    if target.needs_volume and volume_m3 is None:
        return None
    band = next(one for one in OCTAVES if one.nominal_hz == band_hz)
    return target.limits(band, volume_m3=volume_m3)
