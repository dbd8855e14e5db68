"""The types of arrays in practice and measure.

An array is one-dimensional unless its docstring gives another shape, and has one entry for each
target, hit, stroke or whatever its name says, in time order. A variable that holds places in
another array is an array of whole numbers named after what stands there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
