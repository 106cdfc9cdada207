"""The sample recordings are the ones the script made, and what is said of them is what the script knows."""

import hashlib
import importlib
import json
import sys

import numpy as np
import pytest


@pytest.fixture(scope="module")
def script(checkout):
    """The script, importable from its own folder as when it is run."""
    sys.path.insert(0, str(checkout / "sample_data"))
    try:
        yield importlib.import_module("make_sample_data")
    finally:
        sys.path.remove(str(checkout / "sample_data"))
        for name in ("make_sample_data", "scenario"):
            sys.modules.pop(name, None)


@pytest.fixture(scope="module")
def truth(sample_data):
    return json.loads((sample_data / "truth.json").read_text(encoding="utf-8"))


def decoded(path):
    """All frames, shape (n, channels), full scale 1, by a decoder that knows every container here."""
    import av

    with av.open(str(path)) as container:
        stream = container.streams.audio[0]
        frames = [
            frame.to_ndarray().reshape(-1, frame.layout.nb_channels)
            if not frame.format.is_planar
            else frame.to_ndarray().T
            for frame in container.decode(stream)
        ]
        rate = stream.rate
    samples = np.concatenate(frames)
    return samples / 32768.0 if samples.dtype.kind == "i" else samples, rate


def test_every_file_is_the_one_whose_hash_was_kept(sample_data):
    lines = (sample_data / "SHA256SUMS").read_text(encoding="utf-8").splitlines()
    listed = dict(reversed(line.split("  ")) for line in lines)
    for name, digest in listed.items():
        assert hashlib.sha256((sample_data / name).read_bytes()).hexdigest() == digest, name
    sounds = {p.name for p in sample_data.iterdir() if p.suffix in {".wav", ".flac", ".m4a", ".mov"}}
    assert sounds | {"truth.json"} == set(listed)


def test_the_folder_stays_below_eight_megabytes_and_has_every_container(sample_data):
    files = [p for p in sample_data.iterdir() if p.is_file()]
    assert sum(p.stat().st_size for p in files) < 8e6
    assert {".wav", ".flac", ".m4a", ".mov"} <= {p.suffix for p in files}


def test_every_take_opens_with_the_length_the_truth_states(sample_data, truth):
    for told in truth["files"]:
        samples, rate = decoded(sample_data / told["path"])
        assert (rate, samples.shape[1]) == (told["sample_rate_hz"], told["channels"]), told["path"]
        # AAC fills up its last frame of 1024.
        assert 0 <= len(samples) - round(told["duration_s"] * rate) < 1025, told["path"]
        assert 0.4 < np.max(np.abs(samples)) < 0.99, told["path"]


def test_each_clap_begins_where_the_truth_says_in_every_container(sample_data, truth):
    for told in truth["files"]:
        samples, rate = decoded(sample_data / told["path"])
        sound = np.max(np.abs(samples), axis=1)
        for onset_s in told["onset_s"]:
            around = sound[round((onset_s - 0.1) * rate) : round((onset_s + 0.1) * rate)]
            first = int(np.argmax(around >= 0.1 * around.max())) / rate - 0.1
            # The encoder smears sudden sounds over a few milliseconds; PCM does not.
            assert abs(first) < (0.004 if told["format"] in {"m4a", "mov"} else 0.0005), told["path"]
        assert told["n_claps"] == len(told["onset_s"])


def test_the_truth_is_what_the_scenario_makes(script, truth):
    assert {name: script.stage_facts(stage) for name, stage in script.STAGES.items()} == truth["stages"]
    for take, told in zip(script.TAKES, truth["files"], strict=True):
        facts = script.facts(take)
        assert {key: told[key] for key in facts} == facts


def test_the_readme_shows_the_tables_the_scenario_makes(script, sample_data):
    readme = (sample_data / "README.md").read_text(encoding="utf-8")
    assert script.decay_table() in readme
    assert script.take_table() in readme


@pytest.mark.parametrize("name", ["booth_2_lined.wav", "dairy_4_panels_spot3.wav"])
def test_the_script_makes_the_same_sound_again(script, sample_data, truth, name):
    take = next(take for take in script.TAKES if take.file_name == name)
    told = next(told for told in truth["files"] if told["path"] == name)
    rendering = script.render(take)
    kept, _ = decoded(sample_data / name)
    again = script.as_16_bit(rendering.samples) / 32768.0
    # Other processors add in another order: the last bit may differ.
    assert np.max(np.abs(again - kept)) <= 2.0 / 32768.0
    measured = script.measured(rendering, take=take)
    assert measured["onset_s"] == pytest.approx(told["onset_s"], abs=1e-6)
    for spot, times in measured["response_t30_s"].items():
        assert times == pytest.approx(told["response_t30_s"][spot], abs=2e-4)


def test_the_responses_scatter_about_the_decay_the_band_should_have(truth):
    # Mean over a stage's spots, mid bands: 3 standard errors of T30 for n spots (0.55 (B T)^-0.5 each,
    # ISO 3382-2:2008, clause 7), and 3 % for the image part, which decays at its own rate.
    for name, stage in truth["stages"].items():
        spots = [
            times
            for told in truth["files"]
            if told["stage"] == name
            for times in told["response_t30_s"].values()
        ]
        for centre, width_hz in (("500", 355.0), ("1000", 705.0), ("2000", 1406.0), ("4000", 2805.0)):
            expected = stage["band_decay_time_s"][centre]
            scatter = 0.55 / np.sqrt(width_hz * expected * len(spots))
            mean = np.mean([times[centre] for times in spots])
            assert mean == pytest.approx(expected, rel=0.03 + 3 * scatter), (name, centre)


def test_boards_take_the_bass_and_leave_the_treble_ringing(truth):
    bare, boarded = (
        truth["stages"][name]["eyring_decay_time_s"] for name in ("dairy_1_bare", "dairy_2_boarded")
    )
    assert boarded["125"] < 0.5 * bare["125"]
    assert boarded["4000"] > 1.3 * bare["4000"]
