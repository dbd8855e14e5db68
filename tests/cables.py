"""Connections of MIDI ports, read and cut as another program does, by the systems' own tools."""

from __future__ import annotations

import re
import shutil
import subprocess

from conftest import SYSTEM


def can_cut() -> bool:
    """Return whether the tool is installed."""
    return bool(shutil.which("aconnect" if SYSTEM == "alsa" else "jack_disconnect"))


def cut(port: str) -> None:
    """Cut the only connection that leads from a port or to it."""
    if SYSTEM != "alsa":
        (end,) = _jack_ends(port)
        _run("jack_disconnect", port, end)
        return
    here, (end,) = alsa_ends(port)
    ways = [(here, end), (end, here)]
    # A connection has a direction; the tool fails for the other one.
    assert any(not subprocess.run(["aconnect", "-d", *way]).returncode for way in ways)


def alsa_ends(port: str) -> tuple[str, list[str]]:
    """Return the address of an ALSA port `CLIENT:PORT`, and those it is connected to."""
    client, name = port.split(":", 1)
    address, ends, inside = "", [], False
    for line in _run("aconnect", "-l").splitlines():
        if head := re.match(r"client (\d+): '(.*)'", line):
            number, inside = head[1], head[2] == client
        elif one := re.match(r" +(\d+) '(.*?) *'", line):
            here = inside and one[2] == name
            address = f"{number}:{one[1]}" if here else address
        elif here and address:
            ends += re.findall(r"\d+:\d+", line)
    assert address, f"no port {port}"
    return address, ends


def _jack_ends(port: str) -> list[str]:
    """Return the ports that one is connected to, as the JACK server says."""
    lines = _run("jack_lsp", "-c", port).splitlines()
    return [line.strip() for line in lines if line.startswith("   ")]


def _run(*command: str) -> str:
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout
