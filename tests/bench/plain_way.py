"""The plain way to click, in the process that draws: `plain_way.py KIND SECONDS FILE`.

click   a thread that sleeps until each click is due and sends a MIDI note to the port `Ear:in`
audio   a sound card's callback in Python, which counts frames from click to click
loop    nothing is drawn or sent: the engine's clock is waited for as it does, the machine's floor

The same busy screen is drawn 60 times a second beside the first two. Makes the file when it runs,
and at its end writes to it how late each click was sent or due, in seconds, as JSON.
"""

import gc
import json
import sys
import threading
import time
from array import array
from pathlib import Path

from busy_screen import BusyScreen

APART_S = 0.1
LOOP_APART_S = 0.375
"""As far apart as the program's clicks beside it."""

RATE, STEP, BLOCK = 48000, 1920, 256


def click(seconds: float, file: Path) -> list[float]:
    """Send clicks from a thread while the screen draws; return how late each was."""
    from trainer.midi import port_names, ports

    out = ports.new_client("output", "jack")
    ports.open_port(out, port_names.pick_port(ports.listing("jack").outputs, "Ear"), "plain")
    late: list[float] = []

    def run() -> None:
        start = time.perf_counter() + 0.5
        for count in range(int((seconds - 1.0) / APART_S)):
            due = start + count * APART_S
            time.sleep(max(0.0, due - time.perf_counter()))
            out.send_message((0x99, 37, 90))
            late.append(time.perf_counter() - due)

    threading.Thread(target=run, daemon=True).start()
    file.touch()
    BusyScreen(seconds).run()
    out.delete()
    return late


def audio(seconds: float, file: Path) -> list[float]:
    """Let a callback of this process click while the screen draws."""
    import sounddevice

    sound = array("f", [0.8, 0.6, 0.4, 0.2])
    frame = 0

    def fill(out, frames, times, status) -> None:
        nonlocal frame
        block = array("f", bytes(4 * frames))
        for place in range(frames):
            at = (frame + place) % STEP
            if at < len(sound):
                block[place] = sound[at]
        frame += frames
        out[:] = block.tobytes()

    stream = sounddevice.RawOutputStream(
        samplerate=RATE, blocksize=BLOCK, channels=1, dtype="float32", callback=fill
    )
    with stream:
        file.touch()
        BusyScreen(seconds).run()
    return []


def loop(seconds: float, file: Path) -> list[float]:
    """Wait on the engine's clock for one moment after another; return how late each was."""
    from trainer.engine.clock import RealClock, ahead_of_others

    gc.disable()
    file.touch()
    clock, late = RealClock(), []
    with ahead_of_others():
        for count in range(1, int(seconds / LOOP_APART_S)):
            due = count * LOOP_APART_S
            while clock.now() < due:
                clock.wait_until(due)
            late.append(clock.now() - due)
    return late


if __name__ == "__main__":
    kind, seconds, file = sys.argv[1], float(sys.argv[2]), Path(sys.argv[3])
    found = {"click": click, "audio": audio, "loop": loop}[kind](seconds, file)
    file.write_text(json.dumps(found))
