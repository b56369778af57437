"""Open data on cameras and lenses: the lensfun database, which lensfunpy carries (data CC BY-SA 3.0)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import Any


@dataclass(frozen=True, slots=True)
class KnownLens:
    """A lens of the database. Its widest f-number is that at the short end."""

    short_mm: float
    long_mm: float
    widest: float | None


@cache
def crop_factor(make: str | None, model: str | None) -> float | None:
    """Crop factor of a body; None for one that the database does not have.

    Parameters
    ----------
    make, model
        As the camera writes them.

    Returns
    -------
    float or None
        1 for 36 x 24 mm.
    """
    if not make or not model:
        return None
    cameras = _database().find_cameras(make, model)
    factor = float(cameras[0].crop_factor) if cameras else 0.0
    return factor if factor > 0 else None


@cache
def lens(name: str | None) -> KnownLens | None:
    """A lens by its whole name, spaces and case aside; None where none, or several unlike ones, have it.

    Parameters
    ----------
    name
        As recorded, without a converter's suffix.

    Returns
    -------
    KnownLens or None
        Its focal lengths and widest f-numbers.
    """
    if not name:
        return None
    alike = {
        KnownLens(float(entry.min_focal), float(entry.max_focal), float(entry.min_aperture) or None)
        for entry in _lenses_by_name().get(_plain(name), [])
        if entry.min_focal and entry.max_focal
    }
    return alike.pop() if len(alike) == 1 else None


@cache
def _database() -> Any:
    import lensfunpy

    return lensfunpy.Database()


@cache
def _lenses_by_name() -> dict[str, list[Any]]:
    names: dict[str, list[Any]] = {}
    for entry in _database().lenses:
        for name in {_plain(entry.model), _plain(entry.model.removeprefix(entry.maker))}:
            names.setdefault(name, []).append(entry)
    return names


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9.]+", "", name.lower())
