"""Every clap of the recordings that come with the source, made in simulated rooms, is used."""

import json

from roomir.audio.load import open_recording
from roomir.claps.find import find_claps


def test_every_clap_of_the_sample_takes_is_used_and_nothing_else(sample_data):
    files = json.loads((sample_data / "truth.json").read_text())["files"]

    for told in files:
        sound = open_recording(sample_data / told["path"]).sound
        onsets_s = [c.onset_s for c in find_claps(sound) if c.used]
        assert len(onsets_s) == told["n_claps"], told["path"]
        # Lossy formats may begin a frame late; the order and number of claps don't change.
        assert all(abs(a - b) < 0.06 for a, b in zip(onsets_s, told["onset_s"], strict=True)), told["path"]
