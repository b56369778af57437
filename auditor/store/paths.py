"""Paths as questions of the logbook ask for them."""

from __future__ import annotations

import os
from collections.abc import Sequence


def path_range(folder: str, separator: str = os.sep) -> tuple[str, str]:
    """Bounds such that low <= path < high holds for just the paths below a folder.

    Parameters
    ----------
    folder
        Absolute, as text.
    separator
        Of names in this system's paths.

    Returns
    -------
    tuple[str, str]
        Low and high.
    """
    prefix = folder.rstrip(separator) + separator
    return prefix, prefix + "\U0010ffff"


def marks(values: Sequence[object]) -> str:
    """So many placeholders, for IN (...)."""
    return ", ".join("?" * len(values))
