"""Progress bars: on a terminal alone, and on standard error alone."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from auditor.jobs.scan import Progress


@contextmanager
def reading_bar(folders: list[Path], quiet: bool) -> Iterator[Progress | None]:
    """A bar for a scan: how many of the folders' files are done."""
    from auditor.readers.folder import walk

    def files() -> int:
        return sum(1 for folder in folders if folder.is_dir() for _ in walk(folder.resolve()))

    with bar("Reading", "files", files, quiet) as show:
        yield (lambda done, _read: show(done)) if show else None


@contextmanager
def bar(
    doing: str, things: str, count: Callable[[], int], quiet: bool
) -> Iterator[Callable[[int], None] | None]:
    """A bar with its rate in words and the time left, on a terminal alone."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn(doing),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[rate]}"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as shown:
        task = shown.add_task("", total=count(), rate="")

        def show(done: int) -> None:
            shown.update(task, completed=done)
            if speed := shown.tasks[task].speed:
                shown.update(task, rate=f"{speed:.0f} {things} a second")

        yield show
