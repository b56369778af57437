"""What is meant to be photographed: the animal, how far, in what light, how fast."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from difflib import get_close_matches

DISTANCES_M = (0.3, 10_000.0)
"""From the nearest that a long lens could focus to the farthest that air lets through (assumed)."""
DEFAULT_CONTRAST = 0.2
"""Of fine markings on fur and feathers, the share by which light and dark differ: assumed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outing:
    """One animal at one distance in one light."""

    length_m: float
    height_m: float | None = None
    """None where only its length is known."""
    distance_m: float
    light_ev: float
    """At ISO 100."""
    exposure_time_s: float | None = None
    """The shutter speed that is meant; None to follow from the animal's speed."""
    speed_m_s: float = 0.0
    contrast: float = DEFAULT_CONTRAST

    def __post_init__(self) -> None:
        """Raise ValueError naming argument and value for what cannot be."""
        for name, low, high in (
            ("length_m", 0.005, 50.0), ("height_m", 0.005, 50.0), ("distance_m", *DISTANCES_M),
            ("light_ev", -6.0, 20.0), ("speed_m_s", 0.0, 120.0), ("contrast", 0.001, 1.0),
        ):  # fmt: skip
            value = getattr(self, name)
            if value is None and name == "height_m":
                continue
            if not (math.isfinite(value) and low <= value <= high):
                raise ValueError(f"{name} must be {low:g} to {high:g}, not {value:g}")
        shutter = self.exposure_time_s
        if shutter is not None and not (math.isfinite(shutter) and 1e-5 <= shutter <= 60):
            raise ValueError(f"exposure_time_s must be 0.00001 to 60, not {shutter:g}")


@dataclass(frozen=True, slots=True)
class NamedAnimal:
    """Typical size of a grown animal, and how fast it goes when it moves."""

    length_m: float
    height_m: float
    """From the ground to the top of the head, as it mostly stands, sits or swims."""
    speed_m_s: float
    measured: str
    """What the length is from and to."""


ANIMALS = {
    "small songbird": NamedAnimal(0.14, 0.11, 5, "bill to tail"),
    "kingfisher": NamedAnimal(0.16, 0.13, 10, "bill to tail"),
    "thrush": NamedAnimal(0.25, 0.19, 8, "bill to tail"),
    "small wader": NamedAnimal(0.20, 0.15, 12, "bill to tail"),
    "tern": NamedAnimal(0.35, 0.18, 10, "bill to tail"),
    "owl": NamedAnimal(0.35, 0.34, 6, "bill to tail"),
    "duck": NamedAnimal(0.55, 0.35, 18, "bill to tail"),
    "hawk": NamedAnimal(0.50, 0.42, 12, "bill to tail"),
    "heron": NamedAnimal(0.94, 0.80, 9, "bill to tail"),
    "eagle": NamedAnimal(0.85, 0.70, 13, "bill to tail"),
    "swan": NamedAnimal(1.5, 1.00, 16, "bill to tail"),
    "hare": NamedAnimal(0.57, 0.45, 15, "head and body"),
    "fox": NamedAnimal(0.70, 0.50, 10, "head and body"),
    "otter": NamedAnimal(0.70, 0.30, 3, "head and body"),
    "badger": NamedAnimal(0.75, 0.35, 5, "head and body"),
    "seal": NamedAnimal(1.6, 0.50, 3, "nose to tail"),
    "deer": NamedAnimal(1.8, 1.50, 12, "head and body"),
    "wolf": NamedAnimal(1.2, 0.90, 12, "head and body"),
    "bear": NamedAnimal(1.9, 1.10, 10, "head and body"),
}
"""Middle lengths of European species as field guides give them, heights, and speeds of ordinary movement, all
from memory (R): a start for planning, not a measurement. Give --length for anything that matters."""

LIGHTS = {
    "bright sun": (15.0, "clear sun on the animal"),
    "hazy sun": (14.0, "soft shadows"),
    "bright cloud": (13.0, "no shadows"),
    "overcast": (12.0, "grey sky"),
    "open shade": (12.0, "under open sky, out of the sun"),
    "heavy overcast": (11.0, "dark grey sky"),
    "wood in sun": (10.0, "under leaves on a bright day"),
    "sunset": (10.0, "the sun at the horizon, land lit by sky"),
    "wood under cloud": (8.0, "under leaves on a grey day"),
    "dusk": (7.0, "a quarter of an hour after sunset"),
}
"""EV at ISO 100. The five brightest are the steps of the sunny-16 rule as exposure guides print them (C); the
dim ones are rounded from common practice (C) and differ by a stop or two."""


def animal_named(name: str) -> NamedAnimal:
    """An animal of the table.

    Parameters
    ----------
    name
        In any case.

    Returns
    -------
    NamedAnimal
        With its height in metres.

    Raises
    ------
    ValueError
        for a name that it does not have, with the nearest.
    """
    return ANIMALS[_nearest(name, ANIMALS, "animal", "--length")]


def light_named(name: str) -> float:
    """EV at ISO 100, from a number or a word of the table.

    Parameters
    ----------
    name
        A number of EV, or a word.

    Returns
    -------
    float
        EV at ISO 100.

    Raises
    ------
    ValueError
        for a word that it does not have, with the nearest.
    """
    try:
        return float(name)
    except ValueError:
        return LIGHTS[_nearest(name, LIGHTS, "light", "an EV such as 12")][0]


def _nearest(name: str, table: Collection[str], what: str, other_way: str) -> str:
    key = " ".join(name.lower().split())
    if key in table:
        return key
    close = get_close_matches(key, table, n=1)
    meant = f" Did you mean {close[0]}?" if close else ""
    raise ValueError(f"no {what} named {name!r}.{meant} Known: {', '.join(table)}; or give {other_way}")
