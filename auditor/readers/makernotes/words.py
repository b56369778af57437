"""Plain words for settings, the same for every maker: what a maker's own number or name is turned into.

A setting that no word here fits stays None: a decoder never makes one up.
"""

from __future__ import annotations

from typing import Final

# Focus mode.
SINGLE: Final = "single"
"""Focus is found once and held."""
CONTINUOUS: Final = "continuous"
"""Focus follows the subject."""
AUTOMATIC: Final = "automatic"
"""The camera chooses between the two."""
AUTOFOCUS: Final = "autofocus"
"""Autofocus; the camera does not say which kind."""
MANUAL: Final = "manual"

# Which part of the picture the camera may focus on.
ONE_POINT: Final = "one point"
POINT_GROUP: Final = "point group"
"""A chosen point and its neighbours."""
ZONE: Final = "zone"
WHOLE_FRAME: Final = "whole frame"
TRACKING: Final = "tracking"
FACE: Final = "face"

# Drive mode.
SINGLE_FRAME: Final = "single frame"
BURST: Final = "burst"
BURST_SLOW: Final = "burst slow"
BURST_FAST: Final = "burst fast"
BRACKETING: Final = "bracketing"
SELF_TIMER: Final = "self-timer"
REMOTE: Final = "remote"

# Stabiliser.
ON: Final = "on"
OFF: Final = "off"
PANNING: Final = "panning"
"""Only movement across the panning direction is stabilised."""
