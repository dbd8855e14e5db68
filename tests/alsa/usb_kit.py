"""USB MIDI devices made by the kernel itself, to be plugged in, played and pulled at will.

The kernel's gadget `f_midi` is the device, `dummy_hcd` the socket. What is written to the gadget's
own raw MIDI port comes out of the kit as USB MIDI, byte for byte, and what is sent to the kit can
be read there. Needs root and `tests/alsa/inside`.
"""

from __future__ import annotations

import contextlib
import os
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

SOUND = Path("/sys/class/sound")
PATIENCE_S = 10.0


class UsbKit:
    """A kit at socket `number` (0 or 1); a context manager that leaves nothing plugged in."""

    def __init__(self, number: int, name: str) -> None:
        self.number, self.name = number, name
        self.port = f"{name}:{name} MIDI 1"
        self.gadget = Path(os.environ["TRAINER_USB_KITS"]) / f"kit{number}"
        function = self.gadget / f"functions/midi.{number}"
        new = not self.gadget.exists()
        if new:
            for folder in ("strings/0x409", "configs/c.1", f"functions/midi.{number}"):
                (self.gadget / folder).mkdir(parents=True)
            (function / "id").write_text(f"gadget{number}")
            (self.gadget / "idVendor").write_text("0x1d6b")
            (self.gadget / "idProduct").write_text("0x0104")
        texts = {"manufacturer": "Kit trainer", "product": name, "serialnumber": f"{number}"}
        for place, text in texts.items():
            (self.gadget / "strings/0x409" / place).write_text(text)
        if new:  # what belongs to a function is settled once a configuration has it
            (self.gadget / "configs/c.1/midi").symlink_to(function)

    def __enter__(self) -> UsbKit:
        self.plug()
        return self

    def __exit__(self, *_: object) -> None:
        self.unplug()

    def plug(self) -> None:
        """Plug it in, and wait until its sound card is there."""
        (self.gadget / "UDC").write_text(f"dummy_udc.{self.number}")
        end = time.monotonic() + PATIENCE_S
        while not self._cards():
            assert time.monotonic() < end, "the kit's card did not appear"
            time.sleep(0.005)

    def unplug(self) -> None:
        """Pull it; a second time does nothing."""
        if (self.gadget / "UDC").read_text().strip():
            (self.gadget / "UDC").write_text("\n")

    def send(self, data: bytes) -> None:
        """Let the kit send bytes, as they are."""
        with open(self._own_end(), "wb", buffering=0) as end:
            end.write(data)

    def received(self, act: Callable[[], object], seconds: float = 0.3) -> bytes:
        """Do something; return what is sent to the kit from then on, within some seconds."""
        got = b""
        descriptor = os.open(self._own_end(), os.O_RDONLY | os.O_NONBLOCK)
        with contextlib.suppress(BlockingIOError):
            os.read(descriptor, 1)  # the device listens from the first reading on, not from opening
        act()
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                got += os.read(descriptor, 4096)
            except BlockingIOError:
                time.sleep(0.005)
        os.close(descriptor)
        return got

    def raw(self) -> str:
        """Return the kit's raw MIDI device by ALSA's name, as `amidi` takes it."""
        (card,) = self._cards()
        return f"hw:{card.removeprefix('card')},0"

    def _cards(self) -> list[str]:
        """Names of the sound cards at this kit's socket, as the computer sees it."""
        return [one.name for one in self._all("card") if f"dummy_hcd.{self.number}/" in _path(one)]

    def _own_end(self) -> Path:
        """The gadget's own raw MIDI device, the other end of the cable."""
        place = f"dummy_udc.{self.number}/"
        (one,) = [midi for midi in self._all("midiC") if place in _path(midi)]
        return Path("/dev/snd") / one.name

    def _all(self, kind: str) -> Iterator[Path]:
        yield from SOUND.glob(f"{kind}*")


def _path(link: Path) -> str:
    return f"{link.resolve()}/"
