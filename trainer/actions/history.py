"""What was played so far: all that home shows, the sessions of a folder, ceilings and goals.

Sessions that a crash cut off are finished first. Goals are the tempos a player needs; they are
compared with the ceilings of the ladders that were climbed. Home is drawn before anything is read,
so each look loads what it needs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from trainer import settings
from trainer.actions.requests import NO_PORT, LadderRequest, PlayRequest
from trainer.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from trainer.actions.requests import SessionRequest, Setup
    from trainer.actions.ways import WayState
    from trainer.archive.ceilings import Climb
    from trainer.archive.goals import Goal
    from trainer.archive.history import PractisedPattern
    from trainer.archive.recovery import Recovery
    from trainer.archive.session_list import SessionEntry
    from trainer.measure.ceiling import Margin
    from trainer.measure.figure import Figure
    from trainer.midi.connection import PortWatch
    from trainer.pattern.library import PatternEntry


@dataclass(frozen=True, slots=True)
class HistoryRequest:
    """Which sessions of a folder: of a pattern (a part of its name or title), a player, a time.

    Those of the simulated player only where `simulated` is True.
    """

    folder: Path
    pattern: str | None = None
    player: str | None = None
    start: datetime | None = None
    simulated: bool = False


@dataclass(frozen=True, slots=True)
class FolderSessions:
    """All sessions of a folder, the oldest first; what was finished now; and unreadable files."""

    entries: tuple[SessionEntry, ...]
    recovered: tuple[Recovery, ...] = ()
    faults: tuple[BadInput, ...] = ()


@dataclass(frozen=True, slots=True)
class History:
    """The sessions that were chosen, the oldest first, each player's climbs, and all there is."""

    chosen: tuple[SessionEntry, ...]
    climbs: tuple[Climb, ...]
    sessions: FolderSessions


def read_sessions(folder: Path, report: Callable[[int], None] | None = None) -> FolderSessions:
    """Return the sessions of a folder; `report` gets now and then how many files were read."""
    from trainer.archive.recovery import recover
    from trainer.archive.session_list import list_sessions

    listing = list_sessions(folder, report)
    recovered = tuple(recover(folder, listing))
    if recovered:
        listing = list_sessions(folder)
    return FolderSessions(listing.entries, recovered, listing.faults)


def read_history(request: HistoryRequest) -> History:
    """Return the sessions that a request chooses, with the ceilings of their ladders."""
    from trainer.archive.ceilings import climbs
    from trainer.archive.history import choose_sessions

    found = read_sessions(request.folder)
    chosen = choose_sessions(
        found.entries,
        pattern=request.pattern,
        player=request.player,
        start=request.start,
        simulated=request.simulated,
    )
    return History(chosen, tuple(climbs(chosen)), found)


@dataclass(frozen=True, slots=True)
class Known:
    """The MIDI inputs, the patterns, and the sessions of people, the oldest first.

    After the patterns come those that were practised with changes. `weekly_minutes` is how long the
    player means to practise in a week (None: not said), `usual` what is played on where nothing is
    chosen, as it is set, `way` the way through the patterns that was practised last (None: none
    yet), `first` the pattern to begin with where nothing was played.
    """

    ports: tuple[str, ...] = ()
    patterns: tuple[PatternEntry, ...] = ()
    sessions: tuple[SessionEntry, ...] = ()
    weekly_minutes: float | None = None
    usual: str = ""
    way: WayState | None = None
    first: str = ""

    @property
    def last(self) -> SessionEntry | None:
        """The last session in which a person played a stroke that was written."""
        return self.last_on("kit", "keys")

    def last_on(self, *kinds: str) -> SessionEntry | None:
        """Return the last one played on some kinds of input (as `input_kind` says), or None."""
        known = (one for one in reversed(self.sessions) if one.tempos and one.played)
        return next((one for one in known if one.played_on in kinds), None)

    def to_continue(self, source: str) -> SessionEntry | None:
        """Return the last session that was played on such a source: a kit, or computer keys."""
        return self.last_on(source if source in NO_PORT else "kit")

    def can_open(self, pattern: str) -> bool:
        """Return whether there is such a pattern, with or without changes."""
        return name_and_changes(pattern)[0] in {one.name for one in self.patterns}

    def practised(self) -> dict[str, PractisedPattern]:
        """Return when each pattern was practised last, and its fastest clean tempo."""
        from trainer.archive.history import practised_patterns

        return practised_patterns(one for one in self.sessions if one.played)


def name_and_changes(pattern: str) -> tuple[str, dict[str, str]]:
    """Return the name a session's pattern has, and the changes it was played with."""
    from trainer.pattern.language.changes import split

    try:
        return split(pattern)
    except BadInput:  # a name of an older version, or from another player's folder
        return pattern, {}


def changed_patterns(
    patterns: Sequence[PatternEntry], sessions: Sequence[SessionEntry]
) -> list[PatternEntry]:
    """Return each pattern that was practised with changes as one of its own, by its last session.

    Bars taken out of one are left out: a loop is practice of the whole. The level is that of the
    file, so only another leading hand keeps it.
    """
    from trainer.pattern.language.changes import TAKEN

    known = {one.name: one for one in patterns}
    found = {}
    for name, title in {one.pattern: one.title for one in sessions if one.played}.items():
        base, changes = name_and_changes(name)
        if base in known and changes and not changes.keys() & TAKEN.keys():
            level = known[base].level if changes.keys() == {"lead"} else None
            found[name] = replace(known[base], name=name, title=title, level=level)
    return [*found.values()]


def continue_request(last: SessionEntry, setup: Setup) -> SessionRequest:
    """Return what continues a session: its ladder from its last rung, or its last tempo."""
    from trainer.practice.ladder import LADDER_RULES

    tempo = continue_tempo(last)
    if not last.rungs:
        return PlayRequest(last.pattern, tempo, setup=setup)
    course = last.course
    return LadderRequest(
        last.pattern,
        start=tempo,
        step=_number(course.get("step")),
        top=_number(course.get("top")),
        passes=last.conditions.passes or None,
        rule=str(course["rule"]) if course.get("rule") in LADDER_RULES else None,
        setup=setup,
    )


def continue_tempo(last: SessionEntry) -> float | None:
    """Return the tempo (BPM) a session continues at: that of its last rung, or of its last pass."""
    if last.rungs:
        return last.rungs[-1][0]
    return last.last_tempo or (last.tempos[1] if last.tempos else None)


def _number(value: object) -> float | None:
    known = isinstance(value, (int, float)) and not isinstance(value, bool)
    return float(value) if known else None  # type: ignore[arg-type]


class Surroundings:
    """Looks at ports and files; each look may take its time. `close` lets the ports go."""

    def __init__(self) -> None:
        self._watch: PortWatch | None = None

    def look(self) -> Known:
        """Return everything, the files read again."""
        from trainer.actions.ways import first_pattern, way_practised_last
        from trainer.archive.session_list import SIMULATED, list_sessions
        from trainer.pattern.library import catalogue

        folder = settings.recordings_folder(None)
        listed = list_sessions(folder).entries if folder.is_dir() else ()
        sessions = tuple(one for one in listed if one.played_on != SIMULATED)
        aim = settings.load().weekly_minutes
        patterns = catalogue()
        played = any(one.played for one in sessions)
        known = Known(
            patterns=(*patterns, *changed_patterns(patterns, sessions)),
            sessions=sessions,
            weekly_minutes=aim,
            way=way_practised_last(sessions) if played else None,
            first="" if played else first_pattern(),
        )
        return self.look_at_ports(known)

    def look_at_ports(self, known: Known) -> Known:
        """Return what is known with the inputs as they are now."""
        from trainer.midi.connection import PortWatch

        self._watch = self._watch or PortWatch()
        usual = settings.load().input
        ports = tuple(sorted(self._watch.look(), key=lambda port: usual not in port))
        return replace(known, ports=ports, usual=usual)

    def close(self) -> None:
        """Let the ports go: what is played opens clients of its own. The next look opens them."""
        if self._watch:
            self._watch.close()
            self._watch = None


@dataclass(frozen=True, slots=True)
class GoalMargins:
    """A goal, the strokes a second it needs, and each climb's margin over it, the widest first.

    `windows` is parallel to the margins: when each ladder reaches the goal.
    """

    goal: Goal
    asked: float
    margins: tuple[tuple[Climb, Margin], ...]
    windows: tuple[GoalWindow, ...] = ()


@dataclass(frozen=True, slots=True)
class GoalWindow:
    """When a goal is reached at the rate of the last weeks; `why` says why that is not known.

    `first` is the first day on which it may be, `last` the day on which it surely is (90%); None is
    later than two years, or never. `week_off` is what a gap of some days does to the ceiling, in
    percent.
    """

    first: date | None = None
    last: date | None = None
    why: str = ""
    week_off: Figure | None = None


def margins_of_goals(folder: Path) -> list[GoalMargins]:
    """Return every goal with its margins, by the ladders of a folder."""
    from trainer.archive import goals
    from trainer.archive.ceilings import climbs
    from trainer.archive.session_list import by_people, list_sessions
    from trainer.measure.ceiling import needed_rate

    known = goals.load()
    found = climbs(by_people(list_sessions(folder).entries)) if known else []
    rows = []
    for goal in known:
        margins = _margins(goal, found)
        windows = tuple(_window(climb, margin) for climb, margin in margins)
        rows.append(GoalMargins(goal, needed_rate(goal.tempo, goal.value), margins, windows))
    return rows


def _window(climb: Climb, margin: Margin) -> GoalWindow:
    """Return when a climb reaches what is needed; nothing to say where it is safe already."""
    from trainer.measure.ceiling import SAFE
    from trainer.measure.forecast import forecast, week_off

    now = datetime.now().astimezone()
    ceiling = climb.ceiling(now)
    if ceiling is None or margin.standing == SAFE:
        return GoalWindow(why=margin.standing)
    days = climb.own_ceilings(now)
    found = forecast(days)
    if isinstance(found, str):
        return GoalWindow(why=found)
    needed = ceiling.half.tempo / (1 + margin.margin)
    first, last = (
        None if day is None else now.date() + timedelta(days=day) for day in found.window(needed)
    )
    return GoalWindow(first, last, week_off=week_off(days))


def goal_tempos(entries: Sequence[SessionEntry]) -> list[tuple[str, float]]:
    """Return the goals that one player's sessions of a pattern count for: name, and tempo in it.

    Goals or a session that cannot be read are left out: they are reported where they are used.
    """
    from trainer.archive import goals
    from trainer.archive.session_file import open_session
    from trainer.measure.ceiling import needed_rate, tempo_for_rate

    if not entries:
        return []
    last = entries[-1]
    try:
        known = [one for one in goals.load() if counts_for(one, last.player, last.pattern)]
        pattern = open_session(last.path).pattern if known else None
    except (BadInput, OSError):
        return []
    found = []
    for goal in known:
        tempo = tempo_for_rate(pattern, needed_rate(goal.tempo, goal.value)) if pattern else None
        found += [(goal.name, tempo)] if tempo else []
    return found


def counts_for(goal: Goal, player: str, pattern: str) -> bool:
    """Return whether a player's ladders on a pattern count for a goal."""
    own = not goal.player or player.casefold() == goal.player.casefold()
    return own and goal.pattern in ("", pattern)


def best_pattern(folder: Path, name: str) -> str:
    """Return the pattern with the widest margin of a goal; raises BadInput where there is none."""
    for one in margins_of_goals(folder):
        if one.goal.name == name and one.margins:
            return one.margins[0][0].pattern
    raise BadInput("there is no ladder to continue", fix="choose a pattern at home and press l")


def add_goal(goal: Goal) -> float:
    """Keep a goal, in place of one of the same name; return the strokes a second it needs."""
    from trainer.archive import goals
    from trainer.measure.ceiling import needed_rate

    goals.add(goal)
    return needed_rate(goal.tempo, goal.value)


def _margins(goal: Goal, found: list[Climb]) -> tuple[tuple[Climb, Margin], ...]:
    from trainer.archive.session_file import open_session
    from trainer.measure.ceiling import margin, needed_rate

    now = datetime.now().astimezone()
    asked = needed_rate(goal.tempo, goal.value)
    rows = []
    for climb in found:
        if not counts_for(goal, climb.player, climb.pattern):
            continue
        ceiling = climb.ceiling(now)
        try:
            pattern = open_session(climb.entries[-1].path).pattern
        except BadInput:
            continue
        one = margin(asked, pattern, ceiling) if ceiling else None
        if one:
            rows.append((climb, one))
    return tuple(sorted(rows, key=lambda row: -row[1].margin))
