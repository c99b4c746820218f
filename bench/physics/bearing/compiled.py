"""The elimination of many plates on their beds at once, compiled (plain numbers, SI).

It stands alone in this file because what is compiled is kept beside it and is made anew when *this* file
changes.
"""

from __future__ import annotations

import numpy as np

from bench.physics.arrays import Floats
from bench.physics.compiling import compiled


@compiled
def eliminate(main: Floats, near: Floats, far: Floats, right: Floats) -> Floats:
    r"""Solve many symmetric five-diagonal systems at once, without pivoting.

    Parameters
    ----------
    main : array (n, samples)
        Diagonal; overwritten.
    near, far : array (n - 1, samples), (n - 2, samples)
        First and second diagonal beside it; the first is overwritten.
    right : array (n, columns, samples)
        Right-hand sides; overwritten by the solutions.

    Returns
    -------
    array (n, columns, samples)

    Notes
    -----
    :math:`A = L D L^T` by rows.  Stable for the positive definite matrices of a plate on a bed, which
    need no pivots [golub2013]_.  Work grows as nodes times samples.
    """
    count, samples = main.shape
    columns = right.shape[1]
    ratio, second = np.empty_like(near), np.empty_like(far)
    for i in range(count):
        if i >= 2:
            for s in range(samples):
                main[i, s] -= second[i - 2, s] * far[i - 2, s]
        if i >= 1:
            for s in range(samples):
                main[i, s] -= ratio[i - 1, s] * near[i - 1, s]
        for c in range(columns):
            if i >= 2:
                for s in range(samples):
                    right[i, c, s] -= second[i - 2, s] * right[i - 2, c, s]
            if i >= 1:
                for s in range(samples):
                    right[i, c, s] -= ratio[i - 1, s] * right[i - 1, c, s]
        if 1 <= i < count - 1:
            for s in range(samples):
                near[i, s] -= ratio[i - 1, s] * far[i - 1, s]
        if i < count - 1:
            for s in range(samples):
                ratio[i, s] = near[i, s] / main[i, s]
        if i < count - 2:
            for s in range(samples):
                second[i, s] = far[i, s] / main[i, s]
    for i in range(count - 1, -1, -1):
        for c in range(columns):
            for s in range(samples):
                right[i, c, s] /= main[i, s]
            if i < count - 1:
                for s in range(samples):
                    right[i, c, s] -= ratio[i, s] * right[i + 1, c, s]
            if i < count - 2:
                for s in range(samples):
                    right[i, c, s] -= second[i, s] * right[i + 2, c, s]
    return right
