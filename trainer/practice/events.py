"""Everything the practice loop reports, every command it accepts, and the pads that act as keys.

Events are small and picklable: they cross a pipe to the screen, which may fall behind without
anything being lost. Times are seconds on the session's clock.

A pad can give a command, so that nobody has to put the sticks down. A pad on a voice that the
pattern never uses is a key at any time. One that the pattern uses is music while strokes are due,
and a key only in pauses, rests and count-ins.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from trainer.kit.voices import VOICES

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from trainer.kit.hits import Strike
    from trainer.kit.model import Kit


@dataclass(frozen=True, slots=True)
class BeatStarted:
    """A beat begins. `phase` is count-in or playing; `bar` and `beat` count from 0 in the pass.

    In a count-in `beat` counts from 0 too; `beats` says how many there are in the bar. `silent`
    is True where the click is left out on purpose, to test the player's own time.
    """

    time_s: float
    phase: str
    pass_index: int
    bar: int
    beat: int
    beats: int
    tempo: float
    silent: bool = False


@dataclass(frozen=True, slots=True)
class PassStarted:
    """A pass is laid out, about a beat before its first one: its targets and when it starts.

    `rung` numbers the ladder's rungs. Target indexes run from `first_target`, in the order of
    `trainer.practice.course.pass_targets`. A pass can start over after a cut, with a new index; one
    that is continued begins at a later bar, and `skipped_s` is how long the bars before it take.
    """

    pass_index: int
    rung: int
    tempo: float
    start_s: float
    first_target: int
    target_count: int
    skipped_s: float = 0.0


@dataclass(frozen=True, slots=True)
class HitJudged:
    """A hit landed and has a provisional outcome, or an earlier one was settled (`final`).

    `pass_index` and `beat` (quarter notes from the pattern's start) say where in the pattern the
    hit fell; `note_index` is the pattern's note it was matched to, None for an extra or a double.
    `instead` is "head for rim" where the hit fell on its pad, but on another zone than is written.
    """

    hit: int
    time_s: float
    note: int
    velocity: int
    voice: str | None
    zone: str
    outcome: str
    target: int | None
    offset_s: float | None
    final: bool
    pass_index: int = 0
    note_index: int | None = None
    beat: float = 0.0
    instead: str = ""


@dataclass(frozen=True, slots=True)
class TargetMissed:
    """A target was settled as missed."""

    target: int
    pass_index: int = 0
    note_index: int = 0


@dataclass(frozen=True, slots=True)
class IdleHit:
    """A hit that landed while nothing was asked (paused, resting, counted in): not judged."""

    time_s: float
    note: int
    velocity: int
    voice: str | None


@dataclass(frozen=True, slots=True)
class Tally:
    """The running picture since the session began, newest only (older ones may be skipped)."""

    played: int
    wrong_pad: int
    missed: int
    extra: int
    double: int
    rim: int
    offset_mean_s: float | None
    offset_spread_s: float | None


@dataclass(frozen=True, slots=True)
class BarEnded:
    """A bar is over and settled. `missed` and `wrong` count strokes by the voice that was written.

    `played` of `targets` strokes landed on the right pad; `zones` counts those of them that fell on
    another zone than is written ("head for rim"), rims for heads left out: they are `rim`.
    """

    pass_index: int
    bar: int
    targets: int
    played: int
    extra: int
    double: int
    rim: int
    missed: dict[str, int]
    wrong: dict[str, int]
    offset_mean_s: float | None
    offset_spread_s: float | None
    zones: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PassEnded:
    """A pass is over and settled. `failed` lists what was not clean, worst first, in words.

    `clean` is None where nothing is written: an open block has no verdict.
    """

    pass_index: int
    rung: int
    tempo: float
    clean: bool | None
    failed: tuple[str, ...]
    figures: dict[str, Any]


@dataclass(frozen=True, slots=True)
class PassCut:
    """A pass was interrupted: its targets due at or after `at_s` are taken back, not missed."""

    pass_index: int
    at_s: float
    reason: str


@dataclass(frozen=True, slots=True)
class RungEnded:
    """A rung of the ladder has its verdict; `next_tempo` is None when the ladder is over.

    `tightest` is what came closest to its limit in a clean rung, `strokes` how many it held.
    """

    rung: int
    tempo: float
    clean: bool
    failed: tuple[str, ...]
    next_tempo: float | None
    seconds_left: float | None
    tightest: str = ""
    strokes: int = 0


@dataclass(frozen=True, slots=True)
class RestStarted:
    """Nothing is asked until `until_s`; then a count-in at `tempo` begins."""

    time_s: float
    until_s: float
    tempo: float


@dataclass(frozen=True, slots=True)
class TempoChosen:
    """The tempo that the next pass will have, after the player chose another.

    `at_s` is when it takes effect, None where that is with the count-in to come.
    """

    tempo: float
    at_s: float | None = None


@dataclass(frozen=True, slots=True)
class Paused:
    """Playing stopped; `reason` is for the player (pressed, kit unplugged, ...)."""

    time_s: float
    reason: str


@dataclass(frozen=True, slots=True)
class Resumed:
    """Playing continues with a count-in, at a bar of the pass that was paused, from 0."""

    time_s: float
    bar: int = 0


@dataclass(frozen=True, slots=True)
class Notice:
    """Something the player should read once. `severity` is information, warning or error."""

    text: str
    severity: str = "information"


@dataclass(frozen=True, slots=True)
class Finished:
    """The session is over and saved at `path` (None: nothing was kept).

    `stopped` is True where the player ended it before the plan did, `unplayed` where no stroke was
    played: nothing is kept of that.
    """

    path: str | None
    summary: dict[str, Any]
    stopped: bool = False
    unplayed: bool = False


Event = (
    BeatStarted
    | PassStarted
    | HitJudged
    | TargetMissed
    | IdleHit
    | Tally
    | BarEnded
    | PassEnded
    | PassCut
    | RungEnded
    | RestStarted
    | TempoChosen
    | Paused
    | Resumed
    | Notice
    | Finished
)


@dataclass(frozen=True, slots=True)
class Command:
    """What the player wants.

    `name` is one of COMMANDS; `amount` is in BPM for `tempo` (plus or minus); for `key` it is
    the `time.perf_counter()` at which a computer key was pressed, 0 for not known. `text` is the
    reason of a `pause`, or the key. `next` continues from a pause, and is for pads
    on screens where nothing is played.
    """

    name: str
    amount: float = 0.0
    text: str = ""


COMMAND_NAMES = ("pause", "resume", "toggle", "restart", "next", "tempo", "quit", "key")


PAD_KEY_REPEAT_S = 0.5
"""A pad acts once in this time, whatever its trigger sends."""


CONTINUE_COMMANDS = ("next", "toggle", "resume")
"""Commands of pads that continue where something waits."""


def pad_names(table: Mapping[int, str], kit: Kit, commands: Collection[str]) -> str:
    """Return the pads of one of some commands in words: "Crash", "Crash or note 31"."""
    notes = [note for note, command in table.items() if command in commands]
    pads = [(kit.pad(note), note) for note in notes]
    named = [VOICES[pad.voice].title if pad else f"note {note}" for pad, note in pads]
    return " or ".join(dict.fromkeys(named))


class PadKeys:
    """The commands of MIDI notes."""

    def __init__(self, table: Mapping[int, str], kit: Kit, used: Collection[str]) -> None:
        self._table, self._kit, self._used = table, kit, used
        self._acted_s = float("-inf")

    def is_key(self, strike: Strike, asked: bool) -> bool:
        """Return True where a strike is a key press. `asked`: strokes are being judged just now."""
        if strike.note not in self._table:
            return False
        pad = self._kit.pad(strike.note, self._used)
        return not (asked and pad and pad.voice in self._used)

    def press(self, strike: Strike) -> Command | None:
        """Return what a key press wants; nothing where it comes right after another one."""
        if strike.time_s < self._acted_s + PAD_KEY_REPEAT_S:
            return None
        self._acted_s = strike.time_s
        return Command(self._table[strike.note])
