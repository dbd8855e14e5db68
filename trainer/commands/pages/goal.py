"""The goals on the screen: which are safe, and by how much."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.archive import goals
from trainer.archive.goals import Goal
from trainer.commands.goal import NO_GOALS, lines, margins_of_goals
from trainer.errors import BadInput
from trainer.measure.ceiling import needed_rate
from trainer.pattern.description import value_words
from trainer.pattern.model import NOTE_VALUES
from trainer.show.drawing import rate_scale
from trainer.show.page import ChooseQuestion, Page, PageAct, PagePart, RunCommand, TextQuestion

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.archive.ceilings import Climb
    from trainer.measure.ceiling import Margin
    from trainer.show.page import ReportProgress

SCALE_COLUMNS = 60
GUIDE = (
    "What pieces of music ask for, in strokes a second, against the ceilings of your ladders. On "
    "the line ┃ is what the piece asks, ● your ceiling, ├ and ┤ the interval it lies in: what lies "
    "right of ┃ is reserve. Safe: three clean rungs in four at that speed, even at the low end. In "
    "reach: below the high end. Above: not yet."
)


def page(port: str) -> Page:
    """Return the page of the goals."""

    def climb(name: str) -> RunCommand:
        return RunCommand(("ladder", _best(name), "--port", port))

    return Page(
        "Goals: what pieces ask for, against what stays clean",
        GUIDE,
        "trainer goal",
        tell,
        (
            PageAct("enter", "Ladder", "Climb the pattern that comes nearest to the goal", climb),
            PageAct("n", "New goal", "Keep a goal: its name, tempo and note value", add, QUESTIONS),
            PageAct("x", "Forget", "Forget the goal under the cursor", forget, (_sure,)),
        ),
    )


def tell(progress: ReportProgress) -> Iterator[PagePart]:
    """Give each goal with its margins, each as a line and as words."""
    progress("reading the ladders …")
    rows = margins_of_goals()
    if not rows:
        yield PagePart(NO_GOALS, ("or press n",))
    for goal, margins in rows:
        head, *told = lines(goal, margins)
        drawn = [line for row in zip(told, map(_drawn, margins), strict=False) for line in row]
        yield PagePart(head, tuple(drawn or told), goal.name)


def _drawn(row: tuple[Climb, Margin]) -> str:
    one = row[1]
    low, high = ((1 + share) * one.asked for share in (one.low, one.high))
    return "  " + rate_scale(one.asked, low, one.ceiling, high, SCALE_COLUMNS)


def _best(name: str) -> str:
    """Return the pattern with the widest margin of a goal."""
    for goal, margins in margins_of_goals():
        if goal.name == name and margins:
            return margins[0][0].pattern
    raise BadInput("no ladder to go on with yet", mend="choose a pattern at home and press l")


def _number_refused(text: str) -> str:
    try:
        goals.check(Goal("a goal", float(text), "16"))
    except ValueError:
        return "Type a number."
    except BadInput as fault:
        return str(fault)
    return ""


def _value_question(*_answers: str) -> ChooseQuestion:
    told = [(name, value_words(name)) for name in NOTE_VALUES]
    return ChooseQuestion("Which note value at that tempo?", told, "16")


QUESTIONS = (
    lambda *_: TextQuestion("What is the piece, or the passage, called?"),
    lambda *_: TextQuestion("At which tempo (quarters a minute)?", "", _number_refused),
    _value_question,
)


def add(_under: str, name: str, tempo: str, value: str) -> str:
    """Keep a goal."""
    goals.add(Goal(name, float(tempo), value))
    return f"{name}: {needed_rate(float(tempo), value):.1f} strokes a second."


def _sure(name: str) -> ChooseQuestion:
    if not name:
        raise BadInput("there is no goal here", mend="keep one first")
    return ChooseQuestion(f"Forget “{name}”?", (("no", "keep it"), ("yes", "forget it")))


def forget(name: str, sure: str) -> str | None:
    """Forget a goal, when that is meant."""
    if sure == "yes":
        goals.remove(name)
        return f"{name}: forgotten."
    return None
