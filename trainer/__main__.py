"""Start the `trainer` command."""

import sys


def main() -> int:
    """Run the command line; the exit status is the result."""
    from trainer.cli import run

    return run(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
