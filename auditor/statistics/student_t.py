"""Student's t and the normal distribution.

By scipy, which is loaded when it is first asked for: that takes longer than most commands which need no
comparison.
"""

from __future__ import annotations

import math


def normal_share(place: float) -> float:
    """The share of the normal distribution below a place.

    Parameters
    ----------
    place
        In standard deviations.

    Returns
    -------
    float
        0 to 1.
    """
    from scipy.special import ndtr

    return float(ndtr(place))


def share_below(place: float, freedom: float) -> float:
    """The share of Student's t below a place.

    Parameters
    ----------
    place
        In standard errors.
    freedom
        Degrees of freedom, above 0.

    Returns
    -------
    float
        0 to 1.
    """
    from scipy.special import stdtr

    return float(stdtr(freedom, place))


def quantile(share: float, freedom: float) -> float:
    """The place below which a share of Student's t lies.

    Parameters
    ----------
    share
        0 to 1.
    freedom
        Degrees of freedom, above 0.

    Returns
    -------
    float
        In standard errors; infinite for a share of 0 or 1.
    """
    from scipy.special import stdtrit

    # Of a share of 0 scipy says plus infinity.
    return float(stdtrit(freedom, share)) if share > 0 else -math.inf
