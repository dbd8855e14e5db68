"""Disks on which something goes wrong: full, or not to be written to."""

from __future__ import annotations

import shutil
import subprocess
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@contextmanager
def small_disk(folder: Path, options: str) -> Iterator[Path]:
    """Mount a file system in memory; skip where that is not allowed."""
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(folder)]
    if not shutil.which("mount") or subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("mounting a small disk is not allowed here")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)
