"""Words around numbers."""

from __future__ import annotations

import pytest

from roomir.report.wording import counted, fault_line, joined, printable, sentence


@pytest.mark.parametrize(
    "harmful", ["\x1b[2J", "\r", "\n", "\x07", "\x9b31m", "\u202e", "\u2028", "\udcff", "\x7f"]
)
def test_what_is_no_text_is_spelt_out(harmful: str):
    shown = printable(f"a{harmful}b")

    assert shown.isprintable()
    assert shown.startswith("a\\")


def test_letters_of_every_language_are_text():
    assert printable("Küche Übung café 録音.m4a") == "Küche Übung café 録音.m4a"


def test_a_fault_names_its_file_once():
    assert (
        fault_line("a.wav", says="a.wav is empty", remedy="record again") == "a.wav is empty. Record again."
    )
    assert fault_line("a.wav", says="it is empty", remedy="") == "a.wav: it is empty."


def test_counts_read_as_people_say_them():
    assert [counted(n, "clap") for n in (0, 1, 2, 12, 13)] == [
        "no claps",
        "one clap",
        "two claps",
        "twelve claps",
        "13 claps",
    ]


def test_lists_and_sentences():
    assert joined(["63 Hz"]) == "63 Hz"
    assert sentence("done already.") == "Done already."
    assert sentence("") == ""
