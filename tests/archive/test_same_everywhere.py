"""The numbers of the shipped recordings, as other processors would judge them.

A child process is kept from the vector instructions of this processor in three places: NumPy
(NPY_DISABLE_CPU_FEATURES), the BLAS under it (OPENBLAS_CORETYPE, an early 64-bit core) and the
mathematical library of glibc (GLIBC_TUNABLES).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from numpy._core._multiarray_umath import __cpu_dispatch__, __cpu_features__

from trainer.archive.session_file import open_session
from trainer.archive.summary import session_summary, summary_differences

RECORDINGS = sorted((Path(__file__).parents[2] / "recordings").glob("*.jsonl"))

JUDGE = """
import json, sys
from pathlib import Path
from numpy._core._multiarray_umath import __cpu_features__
from trainer.archive.session_file import open_session
from trainer.archive.summary import session_summary
summaries = [session_summary(open_session(Path(path))) for path in sys.argv[1:]]
print(json.dumps([[name for name, on in __cpu_features__.items() if on], summaries]))
"""

DISABLED = " ".join(one for one in __cpu_dispatch__ if __cpu_features__.get(one))
OTHER_PROCESSORS = {
    "numpy": {"NPY_DISABLE_CPU_FEATURES": DISABLED},
    "blas": {"OPENBLAS_CORETYPE": "Prescott"},
    "libm": {"GLIBC_TUNABLES": "glibc.cpu.hwcaps=-AVX2,-AVX,-FMA,-FMA4,-AVX512F"},
}
OTHER_PROCESSORS["all"] = {
    key: value for one in OTHER_PROCESSORS.values() for key, value in one.items()
}


@pytest.mark.parametrize("processor", OTHER_PROCESSORS)
def test_summaries_are_the_same_bit_for_bit(processor: str) -> None:
    """On another processor every number of the shipped recordings is the same to the last bit."""
    child = subprocess.run(
        [sys.executable, "-c", JUDGE, *map(str, RECORDINGS)],
        env=os.environ | OTHER_PROCESSORS[processor],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=True,
    )
    features, summaries = json.loads(child.stdout)

    if "NPY_DISABLE_CPU_FEATURES" in OTHER_PROCESSORS[processor]:
        assert not set(DISABLED.split()) & set(features)
    assert len(summaries) == 3
    assert summaries == [session_summary(open_session(path)) for path in RECORDINGS]


@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_shipped_summaries_are_what_judging_gives(path: Path) -> None:
    """Wherever it was made, no number of a shipped summary differs enough to warn of."""
    session = open_session(path)

    assert session.summary is not None
    assert session.summary["counts"]["targets"] > 100
    assert not list(summary_differences(session.summary, session_summary(session)))


def test_only_differences_that_matter_are_named() -> None:
    """The seventh digit is rounding, the sixth is not; lists are compared one by one."""
    saved = {"a": 1.0, "b": [{"c": 2.0}, "x"], "d": None}

    assert not list(summary_differences(saved, {"a": 1.0000001, "b": [{"c": 2.0}, "x"], "d": None}))
    assert list(summary_differences(saved, {"a": 1.00001})) == ["a"]
    assert list(summary_differences(saved, {"b": [{"c": 2.1}, "x"]})) == ["b.0.c"]
    assert list(summary_differences(saved, {"b": [], "d": 0.0})) != []
