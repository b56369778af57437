"""The table of all frames, as rows that the page carries: its script fills the table on asking."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from auditor.report.listing import ListedFrame
from auditor.report.text import values

Cell = str | list[str | float | None]
"""A text; or a text and the number that it is sorted by."""


def frame_table(rows: Iterable[ListedFrame]) -> dict[str, Any]:
    """What the table shows.

    Parameters
    ----------
    rows
        Frames in words, as `listing.shown_frames` gives them.

    Returns
    -------
    dict
        kits (name by kit_id) and rows: what they are filtered by, and their cells but the kit's.
    """
    # Dicts and lists, since it is JSON: the script of the page reads it.
    listed = list(rows)
    return {
        "kits": {str(row.kit_id): row.kit_name for row in listed},
        "rows": [
            {
                "kit": row.kit_id,
                "flags": " ".join(row.flags),
                "scene": row.scene_id,
                "verdict": row.verdict,
                "best": row.best,
                "cells": _cells(row),
            }
            for row in listed
        ],
    }


def _cells(row: ListedFrame) -> list[Cell]:
    blur = row.blur_urad
    return [
        row.path,
        row.taken_at,
        [values.exposure_time(row.exposure_time_s), row.exposure_time_s],
        [values.iso(row.iso), row.iso],
        row.verdict_word,
        [values.NOT_KNOWN if blur is None else f"{blur:.1f}", None if blur is None else round(blur, 2)],
        row.flag_words,
        _of_burst(row),
    ]


def _of_burst(row: ListedFrame) -> str:
    if not row.best:
        return ""
    return f"best of {row.burst_frames}" if row.burst_frames > 1 else "alone"
