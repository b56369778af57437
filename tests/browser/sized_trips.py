"""Invented trips with every picture that a page shows, and none of them decoded: for tests of its size."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import simplejpeg

from auditor.store.crops import colour_path, keep
from auditor.store.logbook import open_logbook
from benchmarks.simulated_logbook import KITS, Kit, Trip, write

ENCOUNTERS = 52
"""With this seed some 500 frames, all of one trip."""
FLAGGED_EACH = 8
LENSES = (("180-600mm f/5.6-6.3 Estuary", 600.0, 5.6), ("100-500mm f/4.5-6.3 Estuary", 500.0, 4.5))
BODIES = (("Saltmark Field F2 Mark III", 1.0, 6.0), ("Saltmark Shore S2 Mark IV", 1.5, 3.9))
TWELVE = tuple(
    Kit(body, f"Saltmark {lens}", factor, focal_mm * factor, widest, crop, pitch_um)
    for body, crop, pitch_um in BODIES
    for lens, focal_mm, widest in LENSES
    for factor in (1.0, 1.4, 2.0)
)


def write_trip(path: Path, kits: tuple[Kit, ...] = KITS) -> int:
    """A logbook of one trip, an eighth of its frames flagged; returns how many frames it has."""
    frames = write(path, Trip(ENCOUNTERS, kits=kits, seed=7))
    chance = np.random.default_rng(7)
    sizes = {"area": _picture(chance, 528, 528), "whole": _picture(chance, 192, 288)}
    with open_logbook(path) as logbook:
        with logbook.writing():
            logbook.execute(
                """UPDATE readings SET region = '{"x": 0.5, "y": 0.5, "width": 0.1, "height": 0.1}'"""
            )
            logbook.execute(
                "UPDATE inferred SET flags = '[\"smeared\"]' WHERE frame_id % ? = 0", (FLAGGED_EACH,)
            )
        for row in logbook.query("SELECT frame_id FROM frames"):
            keep(colour_path(path, row["frame_id"], "area"), sizes["area"])
            keep(colour_path(path, row["frame_id"], "whole"), sizes["whole"])
    return frames


def _picture(chance: np.random.Generator, rows: int, columns: int) -> bytes:
    """Soft shapes with some noise, as large as a JPEG of a focus area is."""
    coarse = chance.integers(60, 200, (rows // 24, columns // 24, 3)).astype(np.float32)
    drawn = np.kron(coarse, np.ones((24, 24, 1), np.float32)) + chance.normal(0, 4, (rows, columns, 1))
    picture = np.ascontiguousarray(np.clip(drawn, 0, 255).astype(np.uint8))
    data: bytes = simplejpeg.encode_jpeg(picture, quality=70, colorsubsampling="420")
    return data
