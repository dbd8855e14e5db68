"""Start the `trainer` command: nothing in the folder one is in is run, and no traceback is shown.

Python looks for modules in the current folder first where it is started with `-m` or `-c`, as the
processes are that this program starts. A pattern is often opened where it was unpacked, beside
files of a stranger, and one of them may be called `struct.py`.
"""

import os
import sys
from contextlib import suppress
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.errors import TrainerError


def main() -> int:
    """Run the command line; the exit status is the result."""
    import_nothing_from_here()
    from trainer import console, fault_report

    console.open_closed_streams()
    faults: list[TrainerError] = []
    fault_report.watch_threads(faults.append, lambda: console.HANG_UP.gone)
    console.HANG_UP.watch()
    status = 1
    try:
        from trainer.cli import run

        status = console.flushed(run(sys.argv[1:]))
    except KeyboardInterrupt:
        status = 130
    except Exception as error:  # noqa: BLE001  the one net around everything
        if console.HANG_UP.gone:
            return console.CLOSED
        faults.append(fault_report.reported(error))
    for fault in faults:  # those of threads only now: there may have been a screen
        status = console.print_error(fault)
    return status


def import_nothing_from_here() -> None:
    """Take the current folder off the places that this process and its children import from.

    It stays where this package itself is in it: a checkout that was not installed.
    """
    os.environ["PYTHONSAFEPATH"] = "1"  # for children, on every system (Python 3.11)
    here = ""
    with suppress(OSError):  # the folder may have been deleted
        here = os.getcwd()
    if here == os.path.dirname(os.path.dirname(os.path.abspath(__file__))):
        return
    sys.path[:] = [folder for folder in sys.path if folder not in ("", here)]
    if "PYTHONPATH" in os.environ:  # an empty part of it means the current folder too
        parts = os.environ["PYTHONPATH"].split(os.pathsep)
        os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, parts))


if __name__ == "__main__":
    sys.exit(main())
