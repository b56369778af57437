"""Tables for the terminal: readable at 80 columns and without colour."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from auditor.analysis.breakdowns import LIGHT_BAND_EV, NOT_KNOWN, BandRate
from auditor.analysis.kit_table import KitRow
from auditor.report.text import losses, outcomes, values

if TYPE_CHECKING:
    from rich.table import Table

    from auditor.report.text.ledger import LedgerLine

LONGEST_NAME = 120
WIDE = 76
"""Columns of a terminal from which on every column has room."""
ROOM_BESIDE_NAME = 40
"""Columns for the loss with its range and an answer of two lines: before names are broken, answers are."""
ROOM_OF_LOSS = 21
"""Columns of the loss with its range, and of the gaps beside it."""
HELD = "\ue000"
"""Stands for a space at which no line ends: rich breaks lines at a no-break space. No text from a file has it
once `values.plain` has made it printable."""


def kit_table_text(rows: Sequence[KitRow], *, width: int) -> str:
    """The kit table, a row a kit by number and name, and below it what a reader should know of the columns.

    A narrow terminal has neither scenes nor push. Of bare lenses alone, no cost of a converter is shown.
    """
    if not rows:
        return "No frames.\n"
    wide = width >= WIDE
    converters = any(row.converter_factor != 1.0 for row in rows)
    grid = _grid()
    grid.add_column("Kit", overflow="fold", ratio=1, min_width=16)
    cost = ["Up to*", *(["Took"] if wide else [])] if converters else []
    for head in ("Frames", *(["Scenes"] if wide else []), "In focus", "ISO", *cost):
        grid.add_column(head, justify="right", no_wrap=True)
    for row in rows:
        grid.add_row(
            f"{row.kit_id} {_short(row.kit_name)}",
            values.whole(row.frames),
            *([values.whole(row.scenes)] if wide else []),
            _in_focus(row),
            values.typical_iso(row.median_iso),
            *([values.typical_iso(row.median_iso_without_converter)] if converters else []),
            *([values.stops(row.median_forced_push_ev)] if converters and wide else []),
        )
    notes = ["In focus: by the pixels, or by the camera where they cannot tell, with its 95 % interval."]
    if converters and wide:
        notes.append("ISO and the stops of light that the converter took are medians.")
    else:
        notes.append("ISO is a median.")
    if converters:
        notes.append("* ISO of the bare lens at the same shutter speed, at most.")
    notes += _no_rates(rows)
    lines = [line for note in notes for line in values.wrapped(note, width)]
    return _rendered(grid, width) + "\n" + "\n".join(lines) + "\n"


def ledger_text(lines: Sequence[LedgerLine], *, width: int, of_record: bool = False) -> str:
    """The answer kit by kit, a line a converter: its cost in focus, how sure that is, and what follows.

    Parameters
    ----------
    of_record
        Whether a trip is shown, and the losses are those of all trips.
    """
    grid = _grid()
    longest = max(len(line.name) for line in lines)
    whole_name = max(16, min(longest, width - ROOM_BESIDE_NAME))
    grid.add_column("With a converter", overflow="fold", min_width=whole_name, max_width=whole_name)
    grid.add_column("In focus of 100", no_wrap=True)
    grid.add_column("So", overflow="fold", max_width=max(12, width - whole_name - ROOM_OF_LOSS))
    ranges = set()
    for line in lines:
        lost = line.in_focus
        if line.loss is not None:
            lost = losses.signed_of_100(line.loss.loss, line.loss.low, line.loss.high)
            ranges.add("the likely range (80 %)" if line.loss.likely else "the 95 % interval")
        grid.add_row(_short(line.name), lost, line.answer)
    table = _rendered(grid, width)
    if not ranges:
        return table
    record = ", over all your trips" if of_record else ""
    note = (
        f"In focus: against the same lens bare in the same light{record}, with {' or '.join(sorted(ranges))}."
    )
    return "\n".join((table, *values.wrapped(note, width), ""))


def full_names_text(names: Mapping[str, str], *, width: int) -> str:
    """The full name of each kit that the text before calls by its short one; both in the order given."""
    lines = [f"{values.plain(short)}: {values.plain(full)}" for short, full in names.items() if short != full]
    wrapped = [part for line in lines for part in values.wrapped(line, width, then="  ")]
    return "\n".join(["Kits in full:", *wrapped]) + "\n" if wrapped else ""


def _no_rates(rows: Sequence[KitRow]) -> list[str]:
    """Why kits have no rate, each reason once; where the finest crop differs by kit, from which to which."""
    finest: dict[str, set[float]] = {}
    for row in rows:
        if row.hit_rate_missing is not None:
            crops = finest.setdefault(outcomes.NO_RATE[row.hit_rate_missing], set())
            crops |= set() if row.finest_crop is None else {row.finest_crop}
    return [f"{why[0].upper()}{why[1:]}{_finest(sorted(crops))}." for why, crops in finest.items()]


def _finest(crops: list[float]) -> str:
    if not crops:
        return ""
    span = f"{crops[0]:g}" if len(crops) == 1 else f"{crops[0]:g} to {crops[-1]:g}, by kit"
    return f"; with the setting crop = {span} they could"


def breakdown_text(rows: Sequence[BandRate], by: str, unit: str, *, width: int) -> str:
    """Rates by one thing, a row a kit and band, with the caution that nothing else was held alike."""
    if not rows:
        return f"No frame records its {by}.\n"
    grid = _grid()
    grid.add_column("Kit", overflow="fold", ratio=1)
    wide = width >= WIDE
    for head in (by, "Frames", "In focus", *(["Encounters"] if wide else [])):
        grid.add_column(head, justify="right", no_wrap=True)
    for row in rows:
        kit = "all" if row.kit_name is None else _short(row.kit_name)
        band = f"{row.band:g}" if isinstance(row.band, float) else values.plain(row.band)
        if by == "light" and row.band != NOT_KNOWN:
            band = f"{row.band:g} to {row.band + LIGHT_BAND_EV:g}"
        encounters = [values.whole(row.encounters)] if wide else []
        grid.add_row(kit, band, values.whole(row.frames), _in_focus(row), *encounters)
    what = "" if unit == by else f"{by[0].upper()}{by[1:]}: {unit}. "
    notes = (
        f"{what}These rows are not adjusted for anything else: a difference may come from light, "
        "animal or luck. With fewer than 3 encounters only counts are shown."
    )
    return _rendered(grid, width) + "\n" + "\n".join(values.wrapped(notes, width)) + "\n"


def _in_focus(row: KitRow | BandRate) -> str:
    if row.hit_rate is not None:
        return f"{values.percent(row.hit_rate)}, {values.interval(row.hit_rate_low, row.hit_rate_high)}"
    if row.judged:
        return f"{row.hits:,} of {row.judged:,}"
    return values.NOT_KNOWN


def _short(name: object) -> str:
    """A kit's name for a cell of a table, which does not break before its converter."""
    text = values.plain(name)
    text = text if len(text) <= LONGEST_NAME else text[: LONGEST_NAME - 1] + "…"
    return values.unbroken(text).replace(values.NO_BREAK, HELD)


def _grid() -> Table:
    from rich import box
    from rich.table import Table

    return Table(
        box=box.SIMPLE_HEAD,
        padding=(0, 1),
        pad_edge=False,
        show_edge=False,
        expand=False,
        collapse_padding=True,
    )


def _rendered(grid: Table, width: int) -> str:
    """The table as plain text: no colour, and no markup in what files say."""
    from rich.console import Console

    text = io.StringIO()
    console = Console(
        file=text, width=max(width, 60), no_color=True, markup=False, highlight=False, emoji=False
    )
    console.print(grid)
    return "\n".join(line.replace(HELD, " ").rstrip() for line in text.getvalue().splitlines()) + "\n"
