"""Which photographs are held out: never learned from, so that they can score."""

from __future__ import annotations

import hashlib

HELD_OUT_OF = 3


def held_out(name: str) -> bool:
    """Whether a photograph is held out: a third are.

    Parameters
    ----------
    name
        File name without folder; the ending does not count.
    """
    stem = name.rsplit(".", 1)[0]
    return int(hashlib.sha256(stem.encode()).hexdigest(), 16) % HELD_OUT_OF == 0
