"""What each photograph of a folder is for: to train on, to calibrate on, or to score on. None is for two.

Training, calibration and every simulator ask here, so that no score is of what was learned from.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

Role = Literal["train", "calibrate", "score"]
SCORED_EVERY = 5
"""Of the names in order, the first, sixth, eleventh and so on."""
CALIBRATED_EVERY, CALIBRATED_FROM = 15, 7


def of_role(names: Iterable[str], role: Role) -> list[str]:
    """The names of one role, in order.

    Parameters
    ----------
    names
        Of all photographs of the folder, without endings: the role follows from a name's place among them.
    """
    return [
        name for place, name in enumerate(sorted(names)) if _role(place) == role
    ]  # fmt: skip


def _role(place: int) -> Role:
    if place % SCORED_EVERY == 0:
        return "score"
    return "calibrate" if place % CALIBRATED_EVERY == CALIBRATED_FROM else "train"
