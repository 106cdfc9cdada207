"""The reading on a screen: eighty columns, and nothing lost without colour."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from roomir.reading.reading import MidFigures, Reading
from roomir.remarks import Remark
from roomir.report.room import advise_room
from roomir.report.text import render
from roomir.report.view import view
from tests.golden.pages import PAGES
from tests.readings import CLIPPED, figures, indicative_band, reading, room_band, take, unusable_band

ANSI = re.compile(r"\x1b\[[0-9;]*m")


def _long_winded() -> Reading:
    long_remark = Remark(
        code="long",
        says="at 500 Hz " + "the decay is bent and the bend comes from a coupled room " * 6,
        remedy="shut the door to the cold store and every cupboard that rings along " * 4,
    )
    slow = {"decay_time_s": 12.345, "ci95_s": (10.01, 14.99), "t20_s": 12.3, "c50_db": -10.44, "c80_db": -8.0}
    return reading(
        takes=(
            take(
                "a/very/long/path/" + "with-no-place-to-break-it-" * 5 + ".wav",
                concerns=(long_remark,),
                notes=(long_remark,),
            ),
        ),
        bands=(
            unusable_band(),
            *(room_band(hz, reasons=(long_remark,), **slow) for hz in (125.0, 500.0, 1000.0, 8000.0)),
        ),
    )


@pytest.mark.parametrize("full", [False, True])
@pytest.mark.parametrize(
    "what", [reading(), _long_winded(), reading(bands=(), mid=MidFigures())], ids=["usual", "long", "none"]
)
def test_every_line_fits_into_eighty_columns(what: Reading, full: bool):
    text = render(view(what, room=advise_room(what, volume_m3=48.0)), full=full)

    assert max(len(line) for line in text.splitlines()) <= 80


def test_colour_adds_nothing_but_colour():
    shown = view(reading())

    assert ANSI.sub("", render(shown, colour=True)) == render(shown)
    assert "\x1b" not in render(shown)


def test_trust_is_told_by_word_and_sign_in_every_row():
    rows = [line for line in render(view(reading())).splitlines() if re.match(r"[0-9.]+ k?Hz ", line)]
    told = [re.search(r"([+~x]) (reliable|indicative|unusable)", row) for row in rows]

    assert [match.group(0) for match in told if match] == ["x unusable", "~ indicative", *["+ reliable"] * 6]


def test_the_answer_comes_first_then_what_to_do_then_the_table():
    text = render(view(reading()))

    assert text.startswith("Rings for 0.88 s (0.84 to 0.92)")
    assert text.index("For a better reading") < text.index("Band ") < text.index("What a clap cannot do")


def test_limits_and_caution_are_said_once():
    text = " ".join(render(view(reading()), full=True).split())

    assert text.count("not a measurement under ISO 3382-2") == 1
    assert text.count("uncalibrated") == 1
    assert text.count("hearing protection") == 1


def test_full_shows_events_set_aside_with_their_reason():
    short, full = (" ".join(render(view(reading()), full=full).split()) for full in (False, True))

    assert "set aside: It swells and lasts like a voice. Keep silent." in full
    assert "swells" not in short


def test_full_shows_every_quantity_of_room_and_clap():
    full = render(view(reading()), full=True)

    everywhere = "EDT, T20, T30, decay time, spot, decay range, seen by fit, nonlin., curvature"
    for name in f"{everywhere}, C50, C80, D50, centre time, BT, slopes, trust".split(", "):
        assert full.count(f" {name}") >= 1 + len(reading().takes), name
    for name in ("room, from", "claps used", "worth claps", "spots ", "interval from"):
        assert name in full


def test_a_row_has_its_weightiest_reason_and_full_has_them_all():
    reasons = tuple(Remark(code=f"reason-{i}", says=f"reason number {i}") for i in range(4))
    shown = view(reading(bands=(indicative_band(reasons=reasons), room_band(500.0, reasons=reasons[3:]))))
    short, full = (render(shown, full=full) for full in (False, True))

    assert "reason number 0" in short
    assert "reason number 1" not in short
    assert "Further reasons: --full." in short
    assert "reason number 3" not in short  # a reliable band does not explain itself
    assert "125 Hz: reason number 0; reason number 1; reason number 2; reason number 3." in full
    assert "500 Hz: reason number 3." in full


def test_a_reason_that_holds_everywhere_is_said_once():
    everywhere = Remark(code="auto-gain", says="the phone turned its gain up while the room decayed")
    bands = tuple(indicative_band(hz, reasons=(everywhere,)) for hz in (250.0, 500.0, 1000.0))
    text = render(view(reading(bands=bands)))

    # Once in the summary, once under the table.
    assert text.count("turned its gain up") == 2
    assert "All bands: The phone turned its gain up" in text


def test_faults_of_a_recording_name_it():
    text = render(view(reading(takes=(take("hall.m4a", concerns=(CLIPPED,)),))))

    assert "! hall.m4a: Three claps go over full scale." in text


def test_a_hostile_file_name_is_shown_and_does_nothing():
    name = "clap\x1b[31m\r\n[bold]\u202eevil\udcff.wav"
    text = render(view(reading(takes=(take(name, concerns=(CLIPPED,)),))), full=True, colour=False)

    assert "\x1b" not in text
    assert "\r" not in text
    assert "\u202e" not in text
    assert r"clap\x1b[31m\r\n[bold]\u202eevil\udcff.wav" in text
    text.encode("utf-8")  # a byte that is no text cannot end the printing either


def test_a_withheld_figure_is_a_dash():
    row = next(line for line in render(view(reading())).splitlines() if line.startswith("63 Hz  "))

    assert row.split()[2:4] == ["-", "-"]


@pytest.mark.parametrize("name", PAGES)
def test_the_screen_is_what_it_was(name: str, checkout: Path):
    assert PAGES[name]() == (checkout / "tests" / "golden" / name).read_text("utf-8")


def test_bands_beyond_eight_go_into_a_second_table():
    third_octaves = tuple(
        room_band(hz) for hz in (63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0) * 2
    )
    text = render(view(reading(bands=third_octaves, takes=())), full=True)

    assert sum(line.strip().startswith("EDT") for line in text.splitlines()) == 2
    assert max(len(line) for line in text.splitlines()) <= 80


def test_a_clap_keeps_its_own_decimals():
    clap = take().claps[0]
    blurred = figures(clap.bands[0].band, spot_ci95_s=(0.5, 1.3), ci95_s=None)
    shown = view(
        reading(
            takes=(
                take(
                    claps=(
                        clap.__class__(
                            onset_s=1.0, stop_s=2.0, peak_dbfs=-3.0, set_aside_because=None, bands=(blurred,)
                        ),
                    )
                ),
            )
        )
    )
    table = shown.takes[0].claps[0].table

    assert table is not None
    assert {quantity.name: quantity.cells for quantity in table.quantities}["decay time s"] == ("0.9",)
