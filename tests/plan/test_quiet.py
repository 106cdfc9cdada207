"""What a library below Python prints does not reach standard output."""

import subprocess
import sys

TALKS = """
import ctypes
from roomir.plan.quiet import no_c_output

c = ctypes.CDLL(None)
print("before")
with no_c_output():
    c.puts(b"from below")
print("after", flush=True)
c.puts(b"heard again")
"""


def test_c_code_is_silent_meanwhile_and_heard_afterwards():
    done = subprocess.run(
        [sys.executable, "-c", TALKS], capture_output=True, text=True, check=True, stdin=subprocess.DEVNULL
    )
    assert done.stdout.split() == ["before", "after", "heard", "again"]
    assert done.stderr == ""


def test_without_a_standard_output_the_work_is_done_all_the_same():
    closed = "import os; os.close(1)\n" + TALKS.replace("print(", "str(").replace(", flush=True", "")
    done = subprocess.run(
        [sys.executable, "-c", closed], capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL
    )
    assert "Traceback" not in done.stderr
