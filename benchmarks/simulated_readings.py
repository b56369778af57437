"""Readings of the frames of an invented record: how likely each is a hit, and what that tells."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from auditor.statistics.telling import LEAST_PROBABILITY, tellings_of_readings
from benchmarks.simulated_records import Record

APART = 1.5
"""Spreads of a reading between a hit or a miss and the criterion: 12 of 100 are unclear (a probability of .2
to .8)."""


def read(
    drawn: Record,
    chance: np.random.Generator,
    *,
    apart: tuple[float, float] = (APART, APART),
    usual: float | None = None,
    undone: bool = True,
) -> Record:
    """The record as it is known from readings.

    Parameters
    ----------
    drawn
        With the true hits.
    chance
        Seeded.
    apart
        How clear readings with the converter are, and bare ones.
    usual
        The share of hits that probabilities suppose; None for that of the record itself.
    undone
        Whether the rates that draw together are told apart again (`statistics.telling`).

    Returns
    -------
    Record
        With hits as they are told, and frames by what they are worth.
    """
    frames, hits = drawn.frames.astype(np.int64), drawn.hits.astype(np.int64)
    arm = np.repeat(np.arange(len(frames)), frames)
    is_hit = np.arange(len(arm)) - np.repeat(np.cumsum(frames) - frames, frames) < hits[arm]
    supposed = hits.sum() / frames.sum() if usual is None else usual
    clear = np.where(drawn.treated, *apart)[arm]
    reading = np.where(is_hit, 1.0, -1.0) * clear + chance.normal(0, 1, len(arm))
    likely = 1 / (1 + (1 - supposed) / supposed * np.exp(-2 * clear * reading))
    likely = np.clip(likely, LEAST_PROBABILITY, 1 - LEAST_PROBABILITY)
    sums = np.bincount(arm, likely, len(frames))
    if not undone:
        return replace(drawn, hits=sums)
    kit = drawn.treated[arm].astype(np.int64)
    told = tellings_of_readings(kit, drawn.encounter[arm], likely)
    base, share = (
        np.where(drawn.treated, of_kits[0], of_kits[1])
        for of_kits in ([told[1].base, told[0].base], [told[1].share, told[0].share])
    )
    return replace(drawn, hits=sums - base * drawn.frames, frames=share * drawn.frames)
