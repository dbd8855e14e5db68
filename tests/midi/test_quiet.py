"""What libraries write to standard error never meets the screen, which loses nothing itself."""

from __future__ import annotations

import subprocess
import sys

PROGRAM = """
import os, sys
from trainer.midi.ports import quiet_libraries, separate_stderr
with separate_stderr():
    os.write(2, b"library ")
    print("drawn", file=sys.__stderr__)
    with quiet_libraries():
        os.write(2, b"library ")
        print("drawn while ports are looked for", file=sys.__stderr__)
os.write(2, b"back\\n")
print("and Python too", file=sys.stderr)
"""


def test_a_screen_keeps_its_words_and_shows_no_others() -> None:
    """Python's own words arrive, also while others are kept quiet; all is as before afterwards."""
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True
    )
    assert done.stderr.splitlines() == [
        "drawn",
        "drawn while ports are looked for",
        "back",
        "and Python too",
    ]
