"""What surrounds the pattern that is played: the time it is given, its routine, what comes next.

Whoever starts a session says it once; the screen and the lines of text show it.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Around:
    """The frame of one session.

    `seconds` is the time until its end (None: no set end), `ladder` whether it climbs. `block`
    tells the place in a routine ("block 2 of 4") and `after` what follows it by itself ("free play,
    5 minutes"). `pads` names the pads that go on where something waits.
    """

    seconds: float | None = None
    ladder: bool = False
    block: str = ""
    after: str = ""
    pads: str = ""


ALONE = Around()
"""A session that nothing surrounds."""
