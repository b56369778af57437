"""Tables for the terminal: readable at 80 columns and without colour."""

from __future__ import annotations

import io
import textwrap
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from auditor.analysis.kit_table import KIT_TABLE_MISSING
from auditor.analysis.rows import json_rows
from auditor.report.text import values as words

if TYPE_CHECKING:
    import pandas as pd
    from rich.table import Table

LONGEST_NAME = 120


def kit_table_text(table: pd.DataFrame, *, width: int) -> str:
    """The kit table, a row a kit, and below it what a reader should know of the columns."""
    if table.empty:
        return "No frames.\n"
    grid = _grid()
    grid.add_column("Kit", overflow="fold", ratio=1)
    for head in ("Frames", "Scenes", "In focus", "ISO", "Up to*", "Push"):
        grid.add_column(head, justify="right", no_wrap=True)
    reasons: dict[str, None] = {}
    for row in json_rows(table):
        why = row["hit_rate_missing"]
        if why:
            reasons[why] = None
        grid.add_row(
            _short(row["kit_name"]),
            str(row["frames"]),
            str(row["scenes"]),
            _in_focus(row),
            words.whole(row["median_iso"]),
            words.whole(row["median_iso_without_converter"]),
            words.stops(row["median_forced_push_ev"]),
        )
    notes = [
        "In focus: of the frames that pixels or the camera's word decide; 95 % interval.",
        "ISO: median. Push: stops that the converter forced, median.",
        "* Up to this ISO without the converter, at the same shutter speed.",
    ]
    notes += [f"No rate where {KIT_TABLE_MISSING[why]}." for why in reasons]
    lines = [line for note in notes for line in textwrap.wrap(note, width)]
    return _rendered(grid, width) + "\n" + "\n".join(lines) + "\n"


def breakdown_text(rows: list[dict[str, Any]], by: str, unit: str, *, width: int) -> str:
    """Rates by one thing, a row a kit and band, with the caution that nothing else was held alike."""
    if not rows:
        return f"No frames tell their {by}.\n"
    grid = _grid()
    grid.add_column("Kit", overflow="fold", ratio=1)
    for head in (by, "Frames", "In focus", "Encounters"):
        grid.add_column(head, justify="right", no_wrap=True)
    for row in rows:
        kit = "all" if row["kit_name"] is None else _short(row["kit_name"])
        band = f"{row['band']:g}" if isinstance(row["band"], float) else words.plain(row["band"])
        grid.add_row(kit, band, str(row["frames"]), _in_focus(row), str(row["encounters"]))
    notes = (
        f"{by}: {unit}. Descriptive: nothing else is held alike between these rows, so a difference may come "
        "from light, animal or luck. No rate with fewer than three encounters: counts only."
    )
    return _rendered(grid, width) + "\n" + "\n".join(textwrap.wrap(notes, width)) + "\n"


def frame_table_text(rows: list[dict[str, Any]], *, width: int) -> str:
    """Frames, one a line; kits by a number, and their names below."""
    if not rows:
        return "No frames.\n"
    grid = _grid()
    grid.add_column("Taken", no_wrap=True, min_width=14)
    grid.add_column("File", no_wrap=True, overflow="ellipsis", min_width=12, max_width=14)
    grid.add_column("Kit", justify="right", no_wrap=True, min_width=3)
    grid.add_column("ISO", justify="right", no_wrap=True, min_width=5)
    grid.add_column("Focus", no_wrap=True, min_width=7)
    grid.add_column("Flags", min_width=18)
    names = sorted({row["kit_name"] for row in rows})
    numbers = {name: str(number) for number, name in enumerate(names, 1)}
    for row in rows:
        grid.add_row(
            (row["taken_at"] or words.NOT_KNOWN)[5:19].replace("T", " "),
            words.plain(PurePath(row["path"] or "").name),
            numbers[row["kit_name"]],
            words.whole(row["iso"]),
            str(row["verdict"]),
            words.plain(" ".join(row["flags"])),
        )
    legend = [
        textwrap.fill(f"Kit {number}: {_short(name)}", width, subsequent_indent="  ")
        for name, number in numbers.items()
    ]
    return _rendered(grid, width) + "\n" + "\n".join(legend) + "\n"


def _in_focus(row: dict[str, Any]) -> str:
    if row["hit_rate"] is not None:
        return f"{words.percent(row['hit_rate'])}, {words.interval(row)}"
    if row["judged"]:
        return f"{row['hits']} of {row['judged']}"
    return words.NOT_KNOWN


def _short(name: object) -> str:
    text = words.plain(name)
    return text if len(text) <= LONGEST_NAME else text[: LONGEST_NAME - 1] + "…"


def _grid() -> Table:
    from rich import box
    from rich.table import Table

    return Table(box=box.SIMPLE_HEAD, padding=(0, 1), pad_edge=False, show_edge=False, expand=False)


def _rendered(grid: Table, width: int) -> str:
    """The table as plain text: no colour, and no markup in what files say."""
    from rich.console import Console

    text = io.StringIO()
    console = Console(
        file=text, width=max(width, 60), no_color=True, markup=False, highlight=False, emoji=False
    )
    console.print(grid)
    return "\n".join(line.rstrip() for line in text.getvalue().splitlines()) + "\n"
