"""Run as a process of its own: sends MIDI at given times and says when each message went.

Its arguments are a name and RtMidi's number of a MIDI system. It reads lines of JSON, `[[seconds
from now, [bytes]], ...]`, from standard input and answers each with a line of the times sent, in
seconds of `time.perf_counter()`. A row without bytes takes the port away and puts it back at once,
as a plug with a loose contact does.
"""

import contextlib
import json
import sys
import time

import rtmidi

WAKE_S = 0.002
"""Sleep ends this long before a message is due; the rest is waited for awake."""


def main(name: str, api: int) -> None:
    """Send what standard input asks for until it ends."""
    out = _plugged_in(name, api)
    _say("ready")
    for line in sys.stdin:
        zero = time.perf_counter()
        sent = []
        for at, data in json.loads(line):
            _wait(zero + at)
            sent.append(time.perf_counter())
            if data:
                out.send_message(data)
            else:
                out.delete()
                out = _plugged_in(name, api)
        _say(sent)
    out.delete()


def _plugged_in(name: str, api: int) -> rtmidi.MidiOut:
    out = rtmidi.MidiOut(api, name=name)
    out.open_virtual_port("drums")
    return out


def _wait(due: float) -> None:
    while (left := due - time.perf_counter()) > 0:
        if left > WAKE_S:
            time.sleep(left - WAKE_S)


def _say(value: object) -> None:
    with contextlib.suppress(BrokenPipeError):
        sys.stdout.write(json.dumps(value) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
