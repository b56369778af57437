"""Many tests at once: which findings stand when the share of false ones among them is held down."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def benjamini_hochberg(p_values: ArrayLike, q: float = 0.05) -> NDArray[np.bool_]:
    """Which hypotheses are rejected at a false discovery rate of q.

    Parameters
    ----------
    p_values
        Shape (hypotheses,).
    q
        False discovery rate, as a share.

    Returns
    -------
    NDArray[np.bool_]
        Shape (hypotheses,), True for rejected.

    Raises
    ------
    ValueError
        for a p-value outside 0 to 1.

    References
    ----------
    Y. Benjamini, Y. Hochberg, Controlling the false discovery rate, J. R. Stat. Soc. B 57 (1995), 3.1.
    """
    p = np.asarray(p_values, dtype=float)
    if not ((p >= 0) & (p <= 1)).all():
        raise ValueError("p_values must lie between 0 and 1")
    order = np.argsort(p)
    passes = np.flatnonzero(p[order] <= q * np.arange(1, len(p) + 1) / len(p))
    rejected = np.zeros(len(p), dtype=np.bool_)
    if len(passes):
        rejected[order[: passes[-1] + 1]] = True
    return rejected
