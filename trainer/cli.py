"""The `trainer` command: finds the sub-command, loads only its file, and turns errors into words.

A command lives in `trainer/commands/NAME.py` as two functions: `options(parser)` adds its options,
`run(args)` does it and returns the exit status. Nothing else is imported to show the help, so that
`trainer --help` answers at once.
"""

from __future__ import annotations

import argparse
import difflib
import os
from contextlib import suppress
from importlib import import_module
from typing import Any, NoReturn

from trainer import console
from trainer.errors import BadInput, Failure, TrainerError

COMMANDS = {
    "demo": "watch a simulated player practise, no kit needed",
    "play": "practise a pattern on your kit",
    "tonight": "what to play tonight, how long, and why",
    "advice": "what to practise next, with drills",
    "ladder": "climb a pattern in tempo, rung by rung, up when clean",
    "patterns": "list, show, make and check patterns",
    "way": "what leads from pattern to pattern, and where you are",
    "sheet": "print patterns as a page for the music stand",
    "assess": "check a take that was recorded elsewhere",
    "replay": "go through a saved session again",
    "history": "list past sessions and trends",
    "explain": "what the words and numbers mean",
    "routine": "practise several blocks, with rests between",
    "student": "each student's practice, a week assigned and reported",
    "goal": "compare the tempos you need with what stays clean",
    "compare": "two sessions or takes side by side: what changed",
    "kit": "set up the kit: pads, double triggers, latency",
    "ports": "list MIDI inputs and outputs",
    "timing": "measure how exact times are on this machine",
}
"""Each command and what it does, in the order of the help."""

RENAMED = {"score": "assess"}
"""Old names of commands, which work for one more release."""


class Parser(argparse.ArgumentParser):
    """A parser that speaks as the program does: its faults are one sentence with the fix."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**more, add_help=False)
        self._positionals.title = "what to give"
        self.add_argument("-h", "--help", action="help", help="show this page")

    def _get_values(self, action: argparse.Action, arg_strings: list[str]) -> Any:
        """Refuse `--option=--`: argparse drops the dashes and hands an empty list on."""
        if action.option_strings and "--" in arg_strings:
            raise argparse.ArgumentError(action, "expected one argument")
        return super()._get_values(action, arg_strings)

    def error(self, message: str) -> NoReturn:
        """Raise what is wrong with a command line as BadInput."""
        where, what = None, message
        if message.startswith("argument "):
            where, _, what = message.removeprefix("argument ").partition(": ")
        said, _, choices = what.partition(" (choose from ")
        said = _said(said)
        chosen = choices.rstrip(")").replace("'", "")
        fix = f"choose one of {chosen}" if chosen else f"see {self.prog} --help"
        raise BadInput(said, where=where, fix=fix)


_SAID = {
    "the following arguments are required: ": "missing: {}",
    "unrecognized arguments: ": "not known here: {}",
    "invalid choice: ": "{} is not one of the choices",
    "invalid float value: ": "{} is not a number",
    "invalid int value: ": "{} is not a whole number",
    "not allowed with argument ": "cannot be used together with {}",
    "ambiguous option: ": "{}",
    "ignored explicit argument ": "takes no value, but was given {}",
    "expected one argument": "a value is missing",
    "expected at least one argument": "nothing is named",
}
"""How argparse begins a fault, and how we say it."""


def _said(fault: str) -> str:
    """Return a fault of argparse in our words."""
    for begins, said in _SAID.items():
        if fault.startswith(begins):
            rest = fault.removeprefix(begins).replace(" could match ", " may be any of ")
            return said.format(rest.replace("'", '"'))
    return fault


def help_text() -> str:
    """Return the text of `trainer --help`."""
    width = max(map(len, COMMANDS))
    rows = "\n".join(f"  {name:<{width}}  {what}" for name, what in COMMANDS.items())
    return (
        "usage: trainer [--version] [--system NAME] [--student NAME] [COMMAND ...]\n\n"
        "Practise speed around an electronic drum kit and see what breaks first.\n\n"
        f"commands:\n{rows}\n\n"
        "trainer COMMAND --help shows the options of one command."
    )


def parser_for(name: str) -> argparse.ArgumentParser:
    """Return the full parser of one command."""
    module = import_module(f"trainer.commands.{name}")
    parser = Parser(
        prog=f"trainer {name}",
        description=f"{COMMANDS[name][0].upper()}{COMMANDS[name][1:]}.",
    )
    module.options(parser)
    parser.set_defaults(run=module.run)
    return parser


def run(argv: list[str]) -> int:
    """Run one command line and return its exit status: 0, 1 for a failure, 2 for bad input."""
    console.spell_missing_letters()
    try:
        return _dispatch(argv)
    except TrainerError as error:
        return console.print_error(error)
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        console.lose_output()  # whoever read it has gone
        return 141
    except OSError as error:
        # Nobody below had more to say: a name too long for the disk, a disk that is full.
        return console.print_error(_refused(error))


def _refused(error: OSError) -> TrainerError:
    """Return what the system refused in our words: bad input where it is about a name."""
    from trainer.file_system import disk_reason

    if error.filename is None:
        return Failure(f"the system refused: {disk_reason(error)}")
    return BadInput(
        disk_reason(error, "there is no such file"), where=os.fsdecode(error.filename)[:200]
    )


def _choose_system(argv: list[str]) -> list[str]:
    """Take `--system NAME` off the front; name the MIDI system to this process and its engine."""
    name, separator, value = (argv[0] if argv else "").partition("=")
    if name == "--system":
        given = [value] if separator else argv[1:2]
        if not given or not given[0]:
            raise BadInput("a name is missing", where="--system", fix="choose alsa or jack")
        os.environ["TRAINER_MIDI_API"] = given[0]
        return argv[1:] if separator else argv[2:]
    if argv and argv[0] in COMMANDS and not os.environ.get("TRAINER_MIDI_API"):
        _choose_the_system_set()
    return argv


def _choose_student(argv: list[str]) -> list[str]:
    """Take `--student NAME` off the front; all folders are that student's from here on."""
    name, separator, value = (argv[0] if argv else "").partition("=")
    if name != "--student":
        return argv
    from trainer.archive import students

    given = [value] if separator else argv[1:2]
    if not given or not given[0]:
        raise BadInput("a name is missing", where="--student", fix="see trainer student list")
    os.environ["TRAINER_HOME"] = str(students.find(given[0]).home.absolute())
    return argv[1:] if separator else argv[2:]


def _choose_the_system_set() -> None:
    """Use the MIDI system of the settings; a fault in them is for whoever needs them to report."""
    from trainer import settings

    with suppress(BadInput):
        if system := settings.load().system:
            os.environ["TRAINER_MIDI_API"] = system


def _dispatch(argv: list[str]) -> int:
    argv = _choose_system(_choose_student(argv))
    if not argv and console.has_screen():
        from trainer.commands import on_screen

        return on_screen.show_home()
    name = argv[0] if argv else "--help"
    if name in ("-h", "--help", "help"):
        console.print_line(help_text())
        return 0
    if name == "--version":
        from trainer import __version__

        console.print_line(f"trainer {__version__}")
        return 0
    if name in RENAMED:
        console.print_warning(
            f"“trainer {name}” is now “trainer {RENAMED[name]}”; the old name goes with the next "
            "release."
        )
        name = RENAMED[name]
    if name not in COMMANDS:
        near = difflib.get_close_matches(name, COMMANDS, 1)
        raise BadInput(
            f'there is no command "{name}"',
            fix=f'did you mean "{near[0]}"?' if near else "see trainer --help",
        )
    args = parser_for(name).parse_args(argv[1:])
    status: int = args.run(args)
    return status
