"""What several commands share: options, the logbook's place, printing."""

from __future__ import annotations

import json
import shlex
import shutil
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.errors import LogbookError
from auditor.settings import Settings, load, settings_path

if TYPE_CHECKING:
    from auditor.store.logbook import Logbook
    from auditor.store.trips import Trip


def path_given(text: str | Path) -> Path:
    """A path as it was typed; an empty one is refused, since it would stand for the current folder."""
    if not str(text).strip():
        raise typer.BadParameter("it is empty: name a file or a folder")
    return Path(text)


LogbookOption = Annotated[
    Path | None,
    typer.Option(
        "--logbook",
        metavar="FILE",
        parser=path_given,
        envvar="AUDITOR_LOGBOOK",
        help="The logbook file. Default: logbook.sqlite in your data folder (auditor check prints where).",
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON instead of text.")]
QuietOption = Annotated[bool, typer.Option("--quiet", help="No progress, no messages, only results.")]
JobsOption = Annotated[
    int | None,
    typer.Option("--jobs", metavar="N", min=1, help="How many files to read at once. Default: one per core."),
]


class AdviceFrom(Enum):
    """What is said of a kit against its bare lens rests on this."""

    RECORD = "record"
    SHOWN = "shown"


AdviceFromOption = Annotated[
    AdviceFrom,
    typer.Option(
        "--advice-from",
        metavar="WHAT",
        help="Judge kits on your whole record (record), or only on the frames shown (shown).",
    ),
]


def logbook_path(given: Path | None) -> Path:
    """Where the logbook is: as given, else in the user's data folder."""
    if given is not None:
        return given
    import platformdirs

    try:
        return platformdirs.user_data_path("auditor", appauthor=False) / "logbook.sqlite"
    except RuntimeError as error:  # neither HOME nor the system names a home folder
        raise LogbookError(
            "Your home folder is not known here, so there is no place for the logbook. "
            "Name one with --logbook."
        ) from error


def settings_of(path: Path) -> Settings:
    """The settings beside a logbook."""
    return load(settings_path(path.absolute()))


@contextmanager
def reading(given: Path | None) -> Iterator[Logbook]:
    """An existing logbook, its derived tables up to date."""
    from auditor.jobs.opening import up_to_date

    path = logbook_path(given)
    with up_to_date(path) as logbook:
        if logbook.out_of_date:
            print(
                f"{path}: cannot be written to, so it is shown as it was last brought up to date",
                file=sys.stderr,
            )
        yield logbook


def chosen_trip(logbook: Logbook, trip: str | None, all_trips: bool) -> Trip | None:
    """The trip that was asked for, or None for all."""
    from auditor.store.trips import find_trip

    return None if all_trips else find_trip(logbook, trip)


def trip_id(trip: Trip | None) -> int | None:
    """The id of a trip; None for all trips."""
    return None if trip is None else trip.trip_id


def print_json(value: object) -> None:
    """One JSON document on stdout, in ASCII where the output is not UTF-8; NaN is refused: it is not JSON.

    Parameters
    ----------
    value
        Its lists may be iterators, at the top or one level below: they are written as they come.
    """
    sys.stdout.writelines(_json_parts(value))
    print()


def _json_parts(value: object, indent: str = "\n") -> Iterator[str]:
    within = f"{indent}  "
    if isinstance(value, dict) and any(isinstance(each, Iterator) for each in value.values()):
        before = "{"
        for name, each in value.items():
            yield f"{before}{within}{_json(name)}: "
            yield from _json_parts(each, within)
            before = ","
        yield f"{indent}}}"
    elif isinstance(value, Iterator):
        before = "["
        for each in value:
            yield f"{before}{within}{_json(each, within)}"
            before = ","
        yield "[]" if before == "[" else f"{indent}]"
    else:
        yield _json(value, indent)


def _json(value: object, indent: str = "\n") -> str:
    ascii_alone = (sys.stdout.encoding or "").lower().replace("-", "") != "utf8"
    written = json.dumps(value, ensure_ascii=ascii_alone, indent=2, allow_nan=False, default=str)
    return written.replace("\n", indent)


def say(message: str, quiet: bool) -> None:
    """A message that is no result."""
    if not quiet:
        print("\n".join(printable(line) for line in message.split("\n")), file=sys.stderr)


def width() -> int:
    """Columns of the terminal; 80 when there is none."""
    return shutil.get_terminal_size((80, 24)).columns


def logbook_option(given: Path | None) -> str:
    """What a printed command needs to reach the same logbook, quoted for the shell, after a space."""
    return "" if given is None else f" --logbook {shlex.quote(str(given))}"


def wrapped(text: str, *, indent: int = 0) -> str:
    """Text from files made printable, and broken to the width of the terminal."""
    space = " " * indent
    return filled(text, width(), first=space, then=space or "   ")


def filled(text: str, columns: int, *, first: str = "", then: str = "") -> str:
    """Text broken to so many columns, never between a number and its unit or inside a kit's name.

    Parameters
    ----------
    first, then
        What the first line and those after it begin with.
    """
    from auditor.report.text.values import NO_BREAK, unbroken

    return textwrap.fill(
        unbroken(printable(text)), columns, initial_indent=first, subsequent_indent=then,
        break_long_words=False, break_on_hyphens=False,
    ).replace(NO_BREAK, " ")  # fmt: skip


def counted(number: int, noun: str) -> str:
    """A number with its noun, which takes an s from two on: "1 frame", "2,000 frames"."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def for_output(path: str) -> str:
    """A path as a result: on a terminal made printable, for another program as it is."""
    return printable(path) if sys.stdout.isatty() else path


def printable(text: str) -> str:
    """Text from a file or a file name, with whatever could steer a terminal made visible."""
    from auditor.report.text.values import plain

    return plain(text)
