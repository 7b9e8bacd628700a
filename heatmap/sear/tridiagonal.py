"""Many small tridiagonal systems at once, in numpy alone."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from heatmap.units import FloatArray


def tridiagonal_solver(diagonal: FloatArray, beside: FloatArray) -> Callable[[FloatArray], FloatArray]:
    """Return what solves for right-hand sides (batch, n) many symmetric tridiagonal matrices, factored as L D Lᵀ.

    Their diagonals are (batch, n), the neighbours (batch, n - 1). G. H. Golub and C. F. Van Loan, *Matrix Computations*
    (2013), section 4.3.6. In numpy, since the columns are few and importing LAPACK's solver takes longer than a whole
    plan.
    """
    pivots, off = diagonal.T.copy(), beside.T  # rows run along the first axis
    ratios = np.empty_like(off)
    for row in range(len(off)):
        np.divide(off[row], pivots[row], out=ratios[row])
        pivots[row + 1] -= ratios[row] * off[row]

    def solve(right: FloatArray) -> FloatArray:
        result = right.T.copy()
        for row, ratio in enumerate(ratios):
            result[row + 1] -= ratio * result[row]
        result /= pivots
        for row in range(len(ratios) - 1, -1, -1):
            result[row] -= ratios[row] * result[row + 1]
        return np.ascontiguousarray(result.T)

    return solve
