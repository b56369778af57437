"""Paths as questions of the logbook ask for them."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence

from auditor.file_names import known_as

PLAIN_NAME_FIRST = "length(path), path"
"""Order of copies, as in the view frame_facts: X.JPG before "X (1).JPG", "X copy.JPG" and "Copy of X.JPG"."""


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


def without_extension(path: str) -> str:
    """A path without its last extension.

    Parameters
    ----------
    path
        Absolute, as text.

    Returns
    -------
    str
        As it is written.
    """
    return os.path.splitext(path)[0]  # noqa: PTH122  # a text of this system, kept as a text


def stem(path: str) -> str:
    """A path without its last extension, as names are compared: what a sidecar is known by.

    Parameters
    ----------
    path
        Absolute, as text.

    Returns
    -------
    str
        Without upper case, its accents composed: programs write the sidecar of IMG_1.JPG as img_1.xmp, too.
    """
    return known_as(without_extension(path))


def stem_key(stem: str) -> str:
    """What stands in the logbook for a path without its extension: it may be long, and is only ever compared.

    Parameters
    ----------
    stem
        As `stem` gives it.

    Returns
    -------
    str
        16 hexadecimal digits: in ten million files two have the same once in 370,000 logbooks.
    """
    return hashlib.blake2b(stem.encode(), digest_size=8).hexdigest()


def marks(values: Sequence[object]) -> str:
    """So many placeholders, for IN (...)."""
    return ", ".join("?" * len(values))
