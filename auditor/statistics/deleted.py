"""What frames that were deleted in camera could do to an answer.

Photographers delete misses. Where the same share of both kits' frames is gone, rates rise alike and a
difference stays a difference; where more of one kit's are gone, it looks better than it is. So only the
excess of one kit counts: as misses.

References
----------
W. G. Cochran, Sampling Techniques, 3rd ed. (1977), section 6.3: the error of a ratio of sums over clusters
(R).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.statistics.hit_model import Arms

BEYOND_CHANCE = 1.645
"""Standard errors from which two shares differ: one in ten, since missing a difference costs more than
seeing one that is not there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Deleted:
    """Frames that gaps in the file numbers leave room for, with the converter and bare."""

    frames: float
    frames_bare: float
    share: float
    """Of all frames that were taken."""
    share_bare: float
    differ: bool
    """Whether the shares differ beyond chance: only then can an answer turn."""
    turned: bool = False
    """Whether the answer would be another, were the excess misses; it is then `inconclusive`."""


def deleted_frames(arms: Arms) -> Deleted | None:
    """How many frames seem to be deleted; None where nothing is known of it.

    Parameters
    ----------
    arms
        Of a kit and of its bare kit.

    Returns
    -------
    Deleted or None
        Frames and shares of both kits.
    """
    if arms.deleted is None:
        return None
    gone, taken = arms.deleted, arms.deleted + arms.frames
    shares, errors, sums = [], [], []
    for kit in (arms.treated, ~arms.treated):
        total = max(float(taken[kit].sum()), 1.0)
        share = float(gone[kit].sum()) / total
        _names, number = np.unique(arms.encounter[kit], return_inverse=True)
        off = np.bincount(number, (gone - share * taken)[kit]) if kit.any() else np.zeros(1)
        # One frame a kit as a floor: where nothing is gone, nothing is not sure to go.
        spread = float((off**2).sum()) * len(off) / max(1, len(off) - 1) + 1
        shares.append(share)
        errors.append(spread / total**2)
        sums.append(float(gone[kit].sum()))
    differ = abs(shares[0] - shares[1]) > BEYOND_CHANCE * float(np.sqrt(sum(errors)))
    return Deleted(frames=sums[0], frames_bare=sums[1], share=shares[0], share_bare=shares[1], differ=differ)


def with_excess_missed(arms: Arms, deleted: Deleted) -> Arms:
    """The same arms, had the excess of the kit that lost more been kept: all of it misses.

    Parameters
    ----------
    arms
        Of a kit and of its bare kit.
    deleted
        What `deleted_frames` says of them.

    Returns
    -------
    Arms
        `arms` with more frames on the side that lost more, and no more hits.
    """
    more_with_it = deleted.share > deleted.share_bare
    high, low = max(deleted.share, deleted.share_bare), min(deleted.share, deleted.share_bare)
    if arms.deleted is None or high == 0:
        return arms
    excess = (high - low) / high
    of_that_kit: NDArray[Any] = arms.treated == more_with_it
    return replace(arms, frames=arms.frames + excess * arms.deleted * of_that_kit)
