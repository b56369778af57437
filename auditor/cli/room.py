"""check --tidy: room for the pictures kept beside the logbook."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from auditor.cli import common


def make_room(logbook: Path | None, *, as_json: bool) -> None:
    """Remove pictures that nothing needs, and say how many, and how much room that made."""
    from auditor.store.tidying import MB, tidy

    with common.reading(logbook) as book:
        most_mb = common.settings_of(book.path).focus_pictures_mb
        tidied = tidy(book, most_mb)
    if as_json:
        common.print_json({**asdict(tidied), "focus_pictures_mb": most_mb})
        return

    def size(size_bytes: int) -> str:
        return f"{size_bytes / MB:,.1f} MB"

    frames = "a frame that is" if tidied.of_no_frame.pictures == 1 else "frames that are"
    for room, why in (
        (tidied.of_no_frame, f"of {frames} no longer in the logbook, or left by a run that was stopped"),
        (tidied.beyond_room, f"the oldest, beyond the {most_mb:,.0f} MB that focus_pictures_mb allows"),
    ):
        if room.pictures:
            pictures = common.counted(room.pictures, "picture")
            print(common.wrapped(f"Removed {pictures}, {size(room.size_bytes)}: {why}"))
    if not tidied.of_no_frame.pictures and not tidied.beyond_room.pictures:
        print("No picture to remove.")
    stay = "stays" if tidied.kept.pictures == 1 else "stay"
    print(
        f"{common.counted(tidied.kept.pictures, 'picture')} {stay}: {size(tidied.kept.size_bytes)} of "
        f"{most_mb:,.0f} MB."
    )
