"""Many small tridiagonal systems at once, in numpy alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatmap.units import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Tridiagonal:
    """Many symmetric tridiagonal matrices at once, factored as L D Lᵀ; rows run along the first axis.

    G. H. Golub and C. F. Van Loan, *Matrix Computations* (2013), section 4.3.6. In numpy, since the columns are few and
    importing LAPACK's solver takes longer than a whole plan.
    """

    pivots: FloatArray
    ratios: FloatArray

    @classmethod
    def of(cls, diagonal: FloatArray, beside: FloatArray) -> Tridiagonal:
        """Factor matrices of diagonals (batch, n) and neighbours (batch, n - 1)."""
        pivots, off = diagonal.T.copy(), beside.T
        ratios = np.empty_like(off)
        for row in range(len(off)):
            np.divide(off[row], pivots[row], out=ratios[row])
            pivots[row + 1] -= ratios[row] * off[row]
        return cls(pivots, ratios)

    def solve(self, right: FloatArray) -> FloatArray:
        """Return the solutions for right-hand sides (batch, n), the same shape."""
        result = right.T.copy()
        for row, ratio in enumerate(self.ratios):
            result[row + 1] -= ratio * result[row]
        result /= self.pivots
        for row in range(len(self.ratios) - 1, -1, -1):
            result[row] -= self.ratios[row] * result[row + 1]
        return np.ascontiguousarray(result.T)
