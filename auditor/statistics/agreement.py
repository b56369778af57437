"""How far two judges agree beyond chance."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def cohens_kappa(table: ArrayLike) -> float | None:
    """Agreement beyond chance: 1 all, 0 no more than chance; None where chance alone would agree on all.

    Parameters
    ----------
    table
        Counts, shape (words, words): one judge's words down, the other's across, in the same order.

    Returns
    -------
    float or None
        -1 to 1.

    Raises
    ------
    ValueError
        for a table that is not square, has a negative count, or is empty.

    References
    ----------
    J. Cohen, A coefficient of agreement for nominal scales, Educ. Psychol. Meas. 20 (1960), equation 1.
    """
    counts = np.asarray(table, dtype=float)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1] or (counts < 0).any() or counts.sum() == 0:
        raise ValueError("table must be square, of counts, and not empty")
    total = counts.sum()
    agreed = float(np.trace(counts)) / total
    by_chance = float((counts.sum(axis=0) * counts.sum(axis=1)).sum()) / total**2
    return None if by_chance >= 1 else (agreed - by_chance) / (1 - by_chance)
