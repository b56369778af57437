"""A lens that a maker's note tells by its range alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any


def lens_facts(
    short_mm: float,
    long_mm: float,
    widest_at_short: float,
    widest_at_long: float,
    *,
    before: Sequence[str] = (),
    after: Sequence[str] = (),
) -> dict[str, Any]:
    """Columns of MakerFacts, with a name that is put together from the range: "24-70mm F2.8-4".

    Parameters
    ----------
    short_mm, long_mm
        Ends of the range of focal lengths; the same for a prime.
    widest_at_short, widest_at_long
        The widest f-number at each end.
    before, after
        Words of the name before the range, and behind it.
    """
    lengths = f"{short_mm:g}" if short_mm == long_mm else f"{short_mm:g}-{long_mm:g}"
    one = widest_at_short == widest_at_long
    widest = f"{widest_at_short:g}" if one else f"{widest_at_short:g}-{widest_at_long:g}"
    return {
        "lens_name": " ".join([*before, f"{lengths}mm", f"F{widest}", *after]),
        "lens_short_mm": float(short_mm),
        "lens_long_mm": float(long_mm),
        "lens_widest_at_short": widest_at_short,
        "lens_widest_at_long": widest_at_long,
    }
