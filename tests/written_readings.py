"""Readings of pixels that tests write themselves."""

from __future__ import annotations

from typing import Any

from auditor.store.readings import Reading


def reading(sigma_px: float | None, *, frame_id: int = 1, spread: float = 1.25, **more: Any) -> Reading:
    """A reading of this blur, in px, with its interval `spread` times to either side."""
    facts: dict[str, Any] = {
        "measured_on": "jpeg",
        "reading_version": "test",
        "fingerprint": "",
        "scale": 1.0,
        "region": {},
        "sigma_low_px": None if sigma_px is None else sigma_px / spread,
        "sigma_high_px": None if sigma_px is None else sigma_px * spread,
        "system_sigma_px": 1.0,
        "noise": 2.0,
        "texture": 0.5,
        "kind": "sharp",
    }
    return Reading(frame_id=frame_id, sigma_px=sigma_px, **facts | more)
