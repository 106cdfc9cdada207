"""A decoder that crashes, hangs or grabs everything costs one file, and nothing is left of it."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from roomir.audio import _decode, foreign
from roomir.audio.load import open_recording
from roomir.errors import UnreadableAudioError
from tests.audio import sound_files
from tests.audio.sound_files import decay


@pytest.fixture
def memo(tmp_path) -> Path:
    return sound_files.save_film(tmp_path / "clap.m4a", [decay()], container="ipod", codec="aac")


def run_instead(monkeypatch: pytest.MonkeyPatch, script: str) -> None:
    monkeypatch.setattr(foreign, "_COMMAND", [sys.executable, "-c", script])


def refused(path: Path) -> UnreadableAudioError:
    with pytest.raises(UnreadableAudioError) as caught:
        open_recording(path)
    assert caught.value.says.startswith(f"{path}: ")
    assert "\n" not in caught.value.says
    return caught.value


@pytest.mark.parametrize(
    "script",
    [
        "import os, signal; os.kill(os.getpid(), signal.SIGSEGV)",
        "import os; os.abort()",
        "import sys; sys.exit(3)",
        "import sys; sys.stderr.write('not a report')",
        "import sys; sys.stderr.write('[1, 2]')",
        "import sys; sys.stderr.write('{')",
        "import sys; sys.stdout.write('x' * 9)",
        "raise RuntimeError('of its own')",
    ],
)
@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_a_decoder_that_breaks_down_is_told_in_one_line(memo, monkeypatch, capfd, script):
    run_instead(monkeypatch, script)
    assert refused(memo).code == "decoder-crashed"
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("habit", ["time.sleep(60)", "[x for x in iter(int, 1)]"])
def test_a_decoder_that_hangs_is_stopped(memo, monkeypatch, tmp_path, habit):
    monkeypatch.setattr(foreign, "BASE_TIMEOUT_S", 0.6)
    run_instead(
        monkeypatch, f"import os, time; open({str(tmp_path / 'pid')!r}, 'w').write(str(os.getpid())); {habit}"
    )
    began = time.monotonic()
    error = refused(memo)
    assert error.code == "decoder-hangs"
    assert time.monotonic() - began < 5.0
    with pytest.raises(ProcessLookupError):
        os.kill(int((tmp_path / "pid").read_text()), 0)


def test_a_larger_file_has_more_time(memo, monkeypatch):
    monkeypatch.setattr(foreign, "BASE_TIMEOUT_S", 0.0)
    monkeypatch.setattr(foreign, "TIMEOUT_S_PER_MB", 2000.0)
    assert open_recording(memo).duration_s == pytest.approx(1.5)  # 20 kB: some 40 s


def test_a_decoder_that_cannot_start_is_told_with_the_reason(memo, monkeypatch):
    monkeypatch.setattr(foreign, "_COMMAND", ["/nowhere/python"])
    error = refused(memo)
    assert error.code == "cannot-start"
    assert "No such file" in error.says


@pytest.mark.skipif(sys.platform != "linux", reason="the bound is not kept everywhere")
def test_a_decoder_that_wants_too_much_memory_is_refused_it(memo, monkeypatch):
    monkeypatch.setattr(foreign, "MAX_MEMORY_BYTES", 60 << 20)  # not even the libraries fit
    assert refused(memo).code in ("no-memory", "cannot-start", "decoder-crashed")


def test_sound_that_unpacks_without_end_is_cut_off(memo, monkeypatch):
    monkeypatch.setattr(foreign, "MAX_RAW_BYTES", 100_000)
    assert refused(memo).code == "too-long"


def test_a_full_disk_is_called_full(memo):
    class FullDisk(_decode.Output):
        def __init__(self) -> None:
            super().__init__(-1, max_bytes=1 << 30)

        def keep(self, n_bytes: int) -> None:
            self.n_bytes = n_bytes

        def write(self, data: memoryview) -> None:  # noqa: ARG002 - as its base has it
            raise OSError(errno.ENOSPC, "No space left on device")

    request = {
        "decoders": ["av"],
        "demuxers": "mov",
        "min_rate_hz": 8000,
        "max_rate_hz": 192000,
        "max_channels": 8,
        "max_duration_s": 60.0,
    }
    with memo.open("rb") as source:
        report = _decode.decode(request, source, FullDisk())
    assert (report["ok"], report["why"]) == (False, "disk-full")


def test_opening_a_memo_brings_no_decoder_into_this_process(memo):
    script = (
        "import sys\n"
        "from roomir.audio.load import open_recording\n"
        f"open_recording({str(memo)!r})\n"
        "print([name for name in ('av', 'soundfile', 'librosa', 'scipy') if name in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert (done.stdout.strip(), done.stderr) == ("[]", "")


def test_a_module_lying_in_the_builders_folder_is_not_taken_for_a_decoder(memo, monkeypatch):
    for name in ("av.py", "json.py", "soundfile.py"):
        (memo.parent / name).write_text("raise SystemExit(9)")
    monkeypatch.chdir(memo.parent)
    assert open_recording("clap.m4a").duration_s == pytest.approx(1.5)


def test_warnings_made_errors_by_the_builder_do_not_stop_the_decoder(memo, monkeypatch):
    monkeypatch.setenv("PYTHONWARNINGS", "error")
    assert open_recording(memo).duration_s == pytest.approx(1.5)


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="open files can't be counted here")
def test_nothing_stays_open_behind_a_hundred_files_good_and_bad(memo, tmp_path):
    text = tmp_path / "t.wav"
    text.write_text("text")
    wav = sound_files.save(tmp_path / "w.wav", decay(), container="WAV", subtype="PCM_16")
    open_recording(wav)
    before = len(list(Path("/proc/self/fd").iterdir()))
    for _ in range(30):
        open_recording(wav)
    for _ in range(3):
        open_recording(memo)
        refused(text)
    assert len(list(Path("/proc/self/fd").iterdir())) == before
