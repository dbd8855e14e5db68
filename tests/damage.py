"""Files damaged at random, as a strategy of hypothesis."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hypothesis import strategies as st

if TYPE_CHECKING:
    from collections.abc import Sequence


@st.composite
def changed_bytes(draw: st.DrawFn, examples: Sequence[bytes], tokens: Sequence[bytes]) -> bytes:
    """Return an example in which stretches were cut, doubled, overwritten or put in.

    `tokens` are what is put in besides bytes at random.
    """
    data = draw(st.sampled_from(examples))
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(data)))
        end = min(len(data), start + draw(st.integers(0, 60)))
        put = draw(st.one_of(st.sampled_from(tokens), st.binary(max_size=20), st.just(b"")))
        twice = data[start:end] if draw(st.booleans()) else b""
        data = data[:start] + twice + put + data[end:]
    return data
