"""The click as sound. The playing itself is done by a process of its own, `audio_process`."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

from trainer.errors import BadInput

START_S = 20.0
"""How long the audio process may take to be ready."""


class AudioClick:
    """A click on a sound card, heard when it is due: the card's latency is taken into account.

    `sound` is one of `click_sounds.SOUNDS`, `volume` 0 to 1, `device` a part of a sound output's
    name (empty: the system's default).
    """

    name = "audio"
    lead_s = 0.15

    def __init__(self, sound: str = "wood", volume: float = 0.8, device: str = "") -> None:
        self.sound, self.volume, self.device = sound, volume, device
        self.lost = False
        self._process: subprocess.Popen[str] | None = None
        self._about: dict[str, Any] = {}
        self._zero = 0.0

    def open(self, zero_s: float) -> None:
        """Start the audio process. Raises BadInput, with the next best way, where it cannot."""
        self._zero = zero_s
        command = [sys.executable, "-m", "trainer.midi.audio_process"]
        self._process = subprocess.Popen(
            [*command, self.sound, str(self.volume), self.device],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
        self._about = self._answer()
        if "latency_ms" not in self._about:
            self.close()
            raise BadInput(
                self._about.get("fault", "the audio process ended before it was ready"),
                where="audio click",
                mend=self._about.get("mend", "use a MIDI click, or none"),
            )

    def send(self, kind: str, due_s: float) -> float:
        """Ask for one click, `lead_s` before it is due; return when it is heard.

        When the audio process has died the click goes on in silence and `lost` is true.
        """
        if self._process is None or self._process.stdin is None or self.lost:
            return due_s
        try:
            self._process.stdin.write(f"{due_s + self._zero!r} {kind}\n")
            self._process.stdin.flush()
        except OSError:
            self.lost = True
        return due_s

    def quality(self) -> dict[str, Any]:
        """Return what is known about the sound output; after closing also how it went."""
        return {"click": self.name, "lost": self.lost, **self._about}

    def close(self) -> None:
        """End the audio process and keep its figures; closing twice is harmless."""
        process, self._process = self._process, None
        if process is None:
            return
        try:
            out, _ = process.communicate(timeout=3)
        except (subprocess.TimeoutExpired, OSError):
            process.kill()
            process.wait()
            return
        last = out.strip().splitlines()[-1:]
        if last:
            self._about |= json.loads(last[0])

    def _answer(self) -> dict[str, Any]:
        """The process's first line; nothing where it died or does not answer in time."""
        assert self._process
        assert self._process.stdout
        from threading import Timer

        # A library that hangs while it looks for devices must not hang the program.
        killer = Timer(START_S, self._process.kill)
        killer.start()
        line = self._process.stdout.readline()
        killer.cancel()
        answer: dict[str, Any] = json.loads(line) if line else {}
        return answer
