"""check --backup and --repair: a copy of the logbook, and what can be saved of a damaged one."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import typer

from auditor.cli import common, places


def back_up(logbook: Path | None, place: Path, *, as_json: bool) -> None:
    """Copy the logbook, look whether the copy is sound, and remember where it lies."""
    from auditor.store import copies, scans
    from auditor.store.counts import counts

    with common.reading(logbook) as book:
        places.check_copy(place, scans.folders(book))
        copies.copy_to(book.connection, place)
        sound = copies.is_sound(place)
        if sound:
            copies.note(book.path, place)
        frames = counts(book)["frames"]
    if as_json:
        common.print_json({"copy": str(place.absolute()), "frames": frames, "sound": sound})
    else:
        state = "sound" if sound else "DAMAGED: auditor check looks at the logbook itself"
        print(f"{common.printable(str(place))}: a copy with {common.counted(frames, 'frame')}, {state}")
    if not sound:
        raise typer.Exit(1)


def save_what_can_be_saved(path: Path, place: Path, *, as_json: bool) -> None:
    """Save what can be read of a damaged logbook into a new one, and list what is missing."""
    from auditor.store.repair import repair

    places.check_copy(place, [])
    saved = repair(path, place)
    if as_json:
        common.print_json({"logbook": str(place.absolute()), **asdict(saved)})
        return
    if saved.page_by_page:
        print(
            "Its list of tables is gone, so its pages were searched one by one. Rows that had been deleted "
            "may be among these:"
        )
    for row in saved.tables:
        if row.rows or not row.complete:
            lost = "" if row.complete or saved.page_by_page else ", and some that could not be read"
            print(f"  {row.table}: {common.counted(row.rows, 'row')}{lost}")
    print(
        f"{common.printable(str(place))}: what could be saved; the damaged logbook is as it was. Put the new "
        "one in its place, or name it with --logbook; scan your folders again for frames that were lost."
    )
