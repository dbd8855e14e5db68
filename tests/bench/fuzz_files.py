"""Mutates files of one kind for a while and says what broke: `fuzz_files.py KIND SECONDS [FOLDER]`.

Needs atheris (`pip install atheris`), which follows the branches of the program's own code. What
breaks the program is written to FOLDER; a file that takes longer than five seconds counts. The
kinds are those of `tests/strangers.py`; `tests/test_fuzz.py` runs a short budget without atheris
and keeps what was ever found.
"""

import sys
import traceback
from pathlib import Path

import atheris

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

with atheris.instrument_imports(include=["trainer", "tomllib"]):
    import strangers

ROOM = Path("/dev/shm")


def main() -> None:
    """Run libFuzzer over one kind of file."""
    name, seconds, *more = sys.argv[1:]
    folder = Path(more[0] if more else "found", name.replace(" ", "-"))
    seeds = folder / "seeds"
    seeds.mkdir(parents=True, exist_ok=True)
    kind = strangers.KINDS[name]
    for number, data in enumerate(kind.examples()):
        (seeds / f"example-{number}").write_bytes(data)
    bounds = ["-timeout=5", "-rss_limit_mb=1500", "-max_len=6000", f"-max_total_time={seconds}"]
    where = [f"-artifact_prefix={folder}/", str(seeds)]
    atheris.Setup(
        ["fuzz", *bounds, "-verbosity=0", "-print_final_stats=1", *where], Keeper(kind, folder)
    )
    atheris.Fuzz()


class Keeper:
    """Tries each input and keeps the first one that breaks at each place."""

    def __init__(self, kind: strangers.Kind, folder: Path) -> None:
        self.kind, self.folder = kind, folder
        self.room = ROOM if ROOM.is_dir() else None
        self.places: set[tuple[str, str, int]] = set()

    def __call__(self, data: bytes) -> None:
        try:
            strangers.survives(self.kind, data, self.room)
        except Exception as error:  # noqa: BLE001
            last = traceback.extract_tb(error.__traceback__)[-1]
            place = (type(error).__name__, last.filename, last.lineno or 0)
            if place not in self.places:
                self.places.add(place)
                (self.folder / f"broke-{len(self.places)}{self.kind.ending}").write_bytes(data)
                traceback.print_exception(error, limit=-6)


if __name__ == "__main__":
    main()
