"""The process that plays the audio click; its arguments are SOUND VOLUME DEVICE.

It reads lines `DUE KIND` from standard input (`DUE` in seconds of `time.perf_counter()`, which all
processes of a machine share) and ends with it. It writes one line of JSON when it is ready or
cannot be, and one with its figures at the end. A sound card's callback must never wait for a
screen or an engine, and an audio library that breaks must cost no stroke: hence a process.
"""

from __future__ import annotations

import gc
import json
import signal
import sys
import time
from typing import Any

from trainer.errors import BadInput
from trainer.midi.audio_track import LEVEL, ClickTrack, click_samples

BLOCK = 256
LATENCY_S = 0.020
"""Asked of the sound card. The latency is known and taken out, so a safe one costs nothing."""

PATIENCE_S = 3.0

_LIBRARY = (
    "install the library for it (pip install sounddevice; on Debian and Ubuntu also "
    "apt install libportaudio2), or use a MIDI click, or none"
)
_DEVICE = "connect or choose a sound output, or use a MIDI click, or none"


class AudioPlayer:
    """A stream of a sound card that plays a click track."""

    def __init__(self, audio: Any, sound: str, volume: float, device: str | None) -> None:
        found = audio.query_devices(device, "output")
        self.rate = float(found["default_samplerate"])
        self.track = ClickTrack(
            {kind: click_samples(sound, kind, self.rate, volume) for kind in LEVEL}, self.rate
        )
        self.blocks = self.gaps = 0
        self.channels = min(2, int(found["max_output_channels"]))
        self.stream = audio.RawOutputStream(
            samplerate=self.rate,
            blocksize=BLOCK,
            device=device,
            channels=self.channels,
            dtype="float32",
            latency=LATENCY_S,
            callback=self._fill,
        )
        self.name = str(found["name"])

    def _fill(self, out: Any, frames: int, times: Any, status: Any) -> None:
        """Fill the sound card's next block."""
        now = time.perf_counter()
        ahead = times.outputBufferDacTime - times.currentTime
        if not 0.0 <= ahead < 2.0:  # some drivers gives no time of their own
            ahead = self.stream.latency
        # The first block often carries a flag that means nothing.
        gap = self.blocks > 0 and bool(status.output_underflow)
        self.blocks += 1
        self.gaps += gap
        mono = self.track.block(frames, now + ahead, gap)
        out[:] = mono if self.channels == 1 else _both(mono)

    def wait_until_placed(self) -> None:
        """Return when the stream's time is known, or when it seems not to run."""
        patience = time.perf_counter() + PATIENCE_S
        while not self.track.placing.known and time.perf_counter() < patience:
            time.sleep(0.01)

    def figures(self) -> dict[str, Any]:
        """Return how the stream went."""
        moves = self.track.placing.moves
        return {
            "device": self.name,
            "blocks": self.blocks,
            "gaps": self.gaps,
            "placed_anew": len(moves),
            "largest_shift_ms": round(max(map(abs, moves), default=0.0) * 1e3, 3),
            "late_clicks": self.track.late,
            "left_out": self.track.left_out,
        }


def _both(mono: bytes | bytearray) -> bytearray:
    """The same samples on both channels."""
    out = bytearray(2 * len(mono))
    left, right, one = memoryview(out).cast("f"), memoryview(out).cast("f"), memoryview(mono)
    left[0::2] = one.cast("f")
    right[1::2] = one.cast("f")
    return out


def main(sound: str, volume: str, device: str) -> int:
    """Play what standard input requests until it ends."""
    # Control-C in the terminal is the engine's to hear; this process ends with its input.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        player = _player(sound, float(volume), device or None)
    except BadInput as fault:
        _say({"fault": fault.what, "fix": fault.fix})
        return 1
    gc.collect()
    gc.freeze()
    gc.disable()
    with player.stream:
        player.wait_until_placed()
        _say({"latency_ms": round(player.stream.latency * 1e3, 3), "device": player.name})
        for line in sys.stdin:
            due, kind = line.split()
            player.track.add(float(due), kind)
    _say(player.figures())
    return 0


def _player(sound: str, volume: float, device: str | None) -> AudioPlayer:
    try:
        import sounddevice
    except (ImportError, OSError) as fault:
        raise BadInput(f"no sound output works here ({fault})", fix=_LIBRARY) from None
    try:
        return AudioPlayer(sounddevice, sound, volume, device)
    except (sounddevice.PortAudioError, ValueError) as fault:
        text = " ".join(str(fault).split())
        raise BadInput(f"the sound output does not open ({text})", fix=_DEVICE) from None


def _say(value: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(value) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
