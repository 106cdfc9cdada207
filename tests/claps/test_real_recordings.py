"""One clap, or one response, in every real recording."""

import pytest

from roomir.audio.load import open_recording
from roomir.claps.find import find_claps

NAMES = (
    "boards_clap_mono",
    "clap_museum_basement",
    "genesis_6_studio_live_room",
    "sweep_kemar_head0",
    "sweep_kemar_headp40",
    *(f"r3vival_abs{a}_SBG{s}_centre" for a in ("000", "050", "100") for s in (1, 2, 3, 4)),
)


@pytest.mark.parametrize("name", NAMES)
def test_each_holds_exactly_one_decay_to_read(shared_recordings, name):
    sound = open_recording(shared_recordings / f"{name}.wav").sound

    [clap] = [c for c in find_claps(sound) if c.used]

    assert clap.onset_s < 0.02
    assert clap.stop_s - clap.onset_s > 0.7
