"""Serial numbers of bodies: what stands where one would, and is none."""

from __future__ import annotations

from functools import lru_cache

FEWEST_ALIKE = 6
"""So many letters or digits that are all the same are a filling (chosen): few real numbers are like that."""

BY_FILE_NAMES = "files "
"""Stands in for a serial number, with the prefix of a body's file names behind it."""
NO_SERIAL = " (no serial)"
"""Behind a model: the body of it that records no serial number, where others of that model do."""


@lru_cache(maxsize=10_000)  # every frame asks, and a photographer has few bodies
def serial_number(text: str | None) -> str | None:
    """The serial number that a file records; None for a filling, as some firmware writes in its place.

    Zeros and marks alone are none, and so is one letter or digit over and over. Two bodies that write the
    same filling would otherwise count as one.

    >>> serial_number("0042"), serial_number("0000000"), serial_number("FFFFFFFF")
    ('0042', None, None)

    Parameters
    ----------
    text
        As recorded; None where nothing is.

    Returns
    -------
    str or None
        The same text where it can be a number.
    """
    written = {letter for letter in (text or "").casefold() if letter.isalnum()}
    if written <= {"0"}:
        return None
    length = sum(letter.isalnum() for letter in text or "")
    return None if len(written) == 1 and length >= FEWEST_ALIKE else text
