"""inspect: what single files say, and what the logbook knows of them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.cli import common
from auditor.errors import AuditorError

if TYPE_CHECKING:
    from auditor.frames.inspection import KnownFrame


def inspect(
    files: Annotated[
        list[Path], typer.Argument(metavar="FILE", parser=common.path_given, help="Files to inspect.")
    ],
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
) -> None:
    """Everything a file says; with a logbook, also what was measured and decided."""
    from auditor.frames.inspection import inspected

    known_frames = _known(files, logbook)
    looked_into = [
        replace(inspected(path), known=frame) for path, frame in zip(files, known_frames, strict=True)
    ]
    if as_json:
        common.print_json([file.document() for file in looked_into])
    else:
        from auditor.report.inspected import inspected_text

        print("\n\n".join(inspected_text(file, width=common.width()) for file in looked_into))
        if any(file.known is None and file.error is None for file in looked_into):
            common.say("Not in the logbook: auditor audit FOLDER measures and judges it.", quiet=False)
    if any(file.error is not None for file in looked_into):
        raise typer.Exit(3)


def _known(files: list[Path], given: Path | None) -> list[KnownFrame | None]:
    """What the logbook knows of each file. None is needed: the usual one is looked into where it is."""
    if given is None and not common.logbook_path(None).exists():
        return [None] * len(files)
    try:
        with common.reading(given) as book:
            from auditor.frames.inspection import known_of_file

            crop = common.settings_of(book.path).crop
            return [known_of_file(book, path, crop=crop) for path in files]
    except AuditorError as error:
        if given is not None:
            raise
        common.say(f"Without the logbook: {error}", quiet=False)
        return [None] * len(files)


COMMANDS = (inspect,)
