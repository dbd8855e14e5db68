"""Types of arrays, and sums that come out the same, to the last bit, on every processor.

An array is one-dimensional unless its docstring gives another shape, and has one entry for each
target, hit, stroke or whatever its name says, in time order. A variable that holds places in
another array is an array of whole numbers named after what is in it.

A summary is saved with its session and compared when the session is judged again, perhaps on
another machine. By IEEE 754 adding, multiplying, dividing and square roots have one result
everywhere. What varies is the order in which a sum is added up and the last bit of exp, log, sines
and powers (their code follows the processor). So whatever is saved keeps to these rules:

- a single sum is `math.fsum`: it is rounded once, so its order does not matter;
- sums of many rows are `np.sum`, `np.bincount` or `np.cumsum`, whose order follows the shape alone;
- no `np.einsum`, `np.convolve` or `np.linalg`, and `@` only between values `on_grid`: the library
  behind them (BLAS) chooses order and fused multiplication by the processor;
- sines, quantiles and drawn numbers are rounded far above their last bit before they are used.
"""

from __future__ import annotations

import math
import operator

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def average(values: Floats) -> float:
    """Return the mean of some values (at least one)."""
    return math.fsum(values.tolist()) / len(values)


def deviation(values: Floats) -> float:
    """Return the standard deviation (n - 1) of some values (at least two)."""
    return math.sqrt(math.fsum(((values - average(values)) ** 2).tolist()) / (len(values) - 1))


def product(one: Floats, other: Floats) -> float:
    """Return the sum of the products of two series of equal length."""
    return float(np.sum(one * other))


def on_grid(values: Floats, bits: int) -> Floats:
    """Return values rounded to multiples of 2 to the power of -bits.

    Sums of products of such values are exact, hence the same in any order, while the bits of two
    factors before and after the point and those of the number of products stay within 53.
    """
    return np.round(values * 2.0**bits) / 2.0**bits


def normal_draws(rng: np.random.Generator, sd: float, shape: tuple[int, int]) -> Floats:
    """Return normal numbers around 0, to six digits after the point."""
    return np.round(rng.normal(0, sd, shape), 6)


def fitted_line(x: Floats, y: Floats) -> tuple[float, float]:
    """Return slope and height at 0 of the line of least squares; x has two different values."""
    middle = average(x)
    slope = product(x - middle, y) / product(x - middle, x - middle)
    return slope, average(y) - slope * middle


def solved(matrix: list[list[float]], right: list[float]) -> list[float]:
    """Return the solution of a few equations with a symmetric positive matrix, by elimination."""
    rows = [[*row, end] for row, end in zip(matrix, right, strict=True)]
    for at, pivot in enumerate(rows):
        for row in rows[at + 1 :]:
            part = row[at] / pivot[at]
            row[:] = [one - part * other for one, other in zip(row, pivot, strict=True)]
    found: list[float] = []
    for at in range(len(rows) - 1, -1, -1):
        behind = math.fsum(map(operator.mul, rows[at][at + 1 : -1], found))
        found.insert(0, (rows[at][-1] - behind) / rows[at][at])
    return found
