"""The real camera files that two readers are compared on: ../shared/real_frames and AUDITOR_CORPUS."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Iterator
from pathlib import Path
from typing import Any

from tests.beside import REAL_FRAMES

CORPUS = os.environ.get("AUDITOR_CORPUS")

Row = tuple[str, Any, Any, str | None]
"""Fact, ours, theirs, and why they differ; None where they agree."""
Compare = Callable[[Path], tuple[Any, Hashable, list[Row]] | None]
"""Decoder, what tells the exposure from others, and a row for all that both read."""


def folders_here() -> list[Path]:
    """The folders that are here."""
    named = [Path(CORPUS)] if CORPUS else []
    return [folder for folder in (REAL_FRAMES, *named) if folder.is_dir()]


def counts(folders: Iterable[Path], compared: Compare) -> dict[str, Counter[str]]:
    """Files with the same value, by maker and fact; an exposure that lies in several files counts once."""
    totals: dict[str, Counter[str]] = {}
    seen: set[Hashable] = set()
    for _path, (maker, exposure, rows) in _results(folders, compared):
        if exposure not in seen:
            seen.add(exposure)
            agreed = [fact for fact, _, _, why in rows if why is None]
            totals.setdefault(maker.__name__.rpartition(".")[2], Counter()).update(agreed)
    return totals


def unexplained(folders: Iterable[Path], compared: Compare) -> list[tuple[str, Row]]:
    """Rows that differ for no stated reason, with the name of their file."""
    return [
        (path.name, row)
        for path, (_maker, _exposure, rows) in _results(folders, compared)
        for row in rows
        if row[3] == "unexplained"
    ]


def _results(
    folders: Iterable[Path], compared: Compare
) -> Iterator[tuple[Path, tuple[Any, Hashable, list[Row]]]]:
    for folder in folders:
        for path in sorted(folder.rglob("*")):
            if path.is_file() and (result := compared(path)) is not None:
                yield path, result
