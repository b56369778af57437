"""Drawing an estimate towards no effect, by how unsure it is: for advice, never for intervals.

References
----------
B. Efron, C. Morris, Stein's estimation rule and its competitors, JASA 68 (1973): the normal case with a known
spread of true effects (R).
"""

from __future__ import annotations

from statistics import NormalDist

USUAL_SPREAD = 0.15
"""How far true effects of converters lie around none, as a share (assumed: the trade's own disputes are about
effects of this size)."""


def shrunk(estimate: float, low: float, high: float, *, confidence: float = 0.95) -> float:
    """The estimate drawn towards 0: by nothing when it is sure, all the way when it is worth nothing.

    Parameters
    ----------
    estimate, low, high
        An estimate, and the ends of its interval, in one unit.
    confidence
        Of the interval, as a share.

    Returns
    -------
    float
        Between 0 and the estimate, in its unit.

    Raises
    ------
    ValueError
        for a low end above the high one.
    """
    if not low <= high:
        raise ValueError(f"low must not be above high, not {low!r} and {high!r}")
    error = (high - low) / (2 * NormalDist().inv_cdf(0.5 + confidence / 2))
    return estimate * USUAL_SPREAD**2 / (USUAL_SPREAD**2 + error**2)
