"""What to do about the background, by what it looks like."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from roomir.report.next_take import BandOutlook, Outlook
from roomir.report.suggestion import Suggestion, band_names, lifted, nominal_hz, upwards
from roomir.report.wording import band_name, joined

_QUIETER_DB = 6.0
_SWINGS_DB = 6.0
_HUM_IS_WORTH_DB = 0.5

_CODES = {
    "rumble": "find-the-rumble",
    "rush": "stop-moving-air",
    "hiss": "louder-not-quieter",
}
"""What to do about each kind of background that is neither hum nor tone."""

_FIND_IT = {
    "find-the-rumble": (
        (
            "close windows and doors, lay the phone on something firm and step away from it, and wait for a"
            " pause in traffic, wind and steps"
        ),
        "the background is a rumble",
    ),
    "stop-moving-air": (
        (
            "switch off what moves air or turns (heater, ventilation, fridge, computer; the fridge on again"
            " afterwards), and shut the windows"
        ),
        "the background is a rush that falls towards the treble, as moving air, machines and traffic make",
    ),
    "louder-not-quieter": (
        "do not look for the noise in the room: only a louder sound or another recorder helps here",
        "the background is an even hiss, as a recorder makes by itself",
    ),
}


def quieter(outlook: Outlook) -> Iterator[Suggestion]:
    """Say what to do about the background in the bands that lack range: one step for each kind of it."""
    lacking = [
        band for band in outlook.bands if band.reach not in ("there", "more time") and band.noise is not None
    ]
    yield from _hum(outlook, lacking)
    yield from _tones(outlook, lacking)
    for kind, code in _CODES.items():
        do, found = _FIND_IT[code]
        bands = [band for band in lacking if band.noise is not None and band.noise.kind == kind]
        if bands:
            # A hiss is no job to do, but it saves one.
            gain_db = 0.0 if kind == "hiss" else _QUIETER_DB
            yield Suggestion(
                code=code,
                do=do,
                why=f"at {band_names(bands)} {found}",
                bands_hz=nominal_hz(bands),
                worth=lifted(bands, gain_db=gain_db) + 0.1,
            )
    swinging = [band for band in lacking if band.noise is not None and band.noise.swing_db > _SWINGS_DB]
    if swinging:
        most_db = max(band.noise.swing_db for band in swinging if band.noise is not None)
        yield Suggestion(
            code="wait-for-steady-quiet",
            do="wait until it is steadily quiet, and clap then",
            why=f"the background at {band_names(swinging)} comes and goes by up to {most_db:.0f} dB",
            bands_hz=nominal_hz(swinging),
            worth=lifted(swinging, gain_db=0.5 * most_db),
        )


def _hum(outlook: Outlook, lacking: Sequence[BandOutlook]) -> Iterator[Suggestion]:
    humming = [band for band in lacking if band.hum_gain_db >= _HUM_IS_WORTH_DB]
    background = outlook.background
    if not humming or background is None or background.mains_hz is None:
        return
    most = max(humming, key=lambda band: band.hum_gain_db)
    share = 0.0 if most.noise is None else most.noise.hum_share
    missing_db = most.missing_db()
    of = "" if missing_db is None else f" of the {upwards(missing_db)} missing"
    yield Suggestion(
        code="stop-the-hum",
        do="pull the plugs of what hums (fridge, lamps, chargers, power supplies) one by one, and listen",
        why=(
            f"hum of {background.mains_hz:.0f} Hz mains is {100 * min(share, 0.99):.0f} % of the background"
            f" at {band_name(most.band.nominal_hz)}"
        ),
        buys=f"up to {most.hum_gain_db:.0f} dB{of} at {band_name(most.band.nominal_hz)}",
        bands_hz=nominal_hz(humming),
        worth=sum(lifted([band], gain_db=band.hum_gain_db) for band in humming),
    )


def _tones(outlook: Outlook, lacking: Sequence[BandOutlook]) -> Iterator[Suggestion]:
    sounding = [band for band in lacking if band.noise is not None and band.noise.kind == "tone"]
    if not sounding or outlook.background is None:
        return
    tones = joined(f"{hz:.0f} Hz" for hz in sorted(outlook.background.tones_hz))
    yield Suggestion(
        code="stop-the-tone",
        do="find what sounds all the time (a fan, a pump, a power supply that whistles) and switch it off",
        why=f"the background at {band_names(sounding)} is mostly steady tones; the strongest lie at {tones}",
        bands_hz=nominal_hz(sounding),
        worth=lifted(sounding, gain_db=_QUIETER_DB),
    )
