"""Paths as questions of the logbook ask for them."""

from __future__ import annotations

import hashlib
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


def stem_key(stem: str) -> str:
    """What stands in the logbook for a path without its extension: it may be long, and is only ever compared.

    Parameters
    ----------
    stem
        As `identity.stem` gives it.

    Returns
    -------
    str
        16 hexadecimal digits: in ten million files two have the same once in 370,000 logbooks.
    """
    return hashlib.blake2b(stem.encode(), digest_size=8).hexdigest()


def marks(values: Sequence[object]) -> str:
    """So many placeholders, for IN (...)."""
    return ", ".join("?" * len(values))
