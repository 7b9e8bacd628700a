"""Many small tridiagonal systems at once, in numpy alone."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from heatmap.units import FloatArray


def tridiagonal_solver(diagonal: FloatArray, beside: FloatArray) -> Callable[[FloatArray], FloatArray]:
    """Return what solves for right-hand sides (n, batch) many symmetric tridiagonal matrices, factored as L D Lᵀ.

    Their diagonals are (n, batch), n odd, the neighbours (n - 1, batch). G. H. Golub and C. F. Van Loan, *Matrix
    Computations* (2013), section 4.3.6, from both ends to the middle at once. In numpy, since the columns are few and
    importing LAPACK's solver takes longer than a whole plan.
    """
    middle = len(beside) // 2
    inwards = np.stack([np.arange(middle + 1), np.arange(2 * middle, middle - 1, -1)], axis=1)
    pivots, off = diagonal[inwards], beside[inwards[:-1] - [0, 1]]  # (rows, 2, batch)
    ratios = np.empty_like(off)
    for ratio, beyond, pivot, further in zip(ratios, off, pivots, pivots[1:], strict=False):
        np.divide(beyond, pivot, out=ratio)
        further -= ratio * beyond
    pivots[middle] = pivots[middle].sum(axis=0) - diagonal[middle]

    def solve(right: FloatArray) -> FloatArray:
        result = right[inwards]
        for ratio, row, further in zip(ratios, result[:-1], result[1:], strict=True):
            further -= ratio * row
        result[middle] = result[middle].sum(axis=0) - right[middle]
        result /= pivots
        for ratio, row, further in zip(ratios[::-1], result[-2::-1], result[:0:-1], strict=True):
            row -= ratio * further
        return np.concatenate([result[:, 0], result[-2::-1, 1]])

    return solve
