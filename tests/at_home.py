"""What home shows in tests: a kit, three patterns, and a session of one of them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from trainer.archive.session_list import SessionEntry as Played
from trainer.pattern.library import PatternEntry as Written
from trainer.screens.home import Known

PATTERNS = (
    Written("leapfrog", "Leapfrog [b]up[/b]", Path("leapfrog.toml"), ("note values",)),
    Written("singles", "Singles", Path("singles.toml"), ("singles", "feet")),
    Written("broken", "Broken", Path("broken.toml"), fault="no bars"),
)
SESSION = Played(
    Path("one.jsonl"),
    datetime(2026, 3, 1, 18, 30, tzinfo=UTC),
    "singles",
    "Singles",
    "",
    True,
    600.0,
    20,
    400,
    (80.0, 92.0),
    (),
    {},
)
KNOWN = Known(("Pad box",), PATTERNS, (SESSION,))
