"""declare and forget: what no file records, and taking a folder back out."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from auditor.cli import common
from auditor.errors import LogbookError

if TYPE_CHECKING:
    from auditor.store.logbook import Logbook

app = typer.Typer(
    name="declare",
    help="Say what no file records: a converter that did not report itself, facts of a body, a clock that "
    "was off, a trip's name and ends, frames to leave out. Everything can be undone.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

BodyOption = Annotated[str, typer.Option("--body", help="The body: its serial number or its model.")]
FromOption = Annotated[str | None, typer.Option("--from", help="First moment: 2026-04-18T09:30, or a day.")]
ToOption = Annotated[str | None, typer.Option("--to", help="Last moment, that day or minute included.")]
_OFFSET = re.compile(r"([+-])(\d{1,3}):([0-5]\d)(?::([0-5]\d))?")


@app.command("converter")
def declare_converter(
    body: BodyOption,
    factor: Annotated[float, typer.Option("--factor", min=1.0, max=3.0, help="1.4, 2 ...; 1 for none.")],
    from_: FromOption = None,
    to: ToOption = None,
    logbook: common.LogbookOption = None,
) -> None:
    """A converter that was on a body for a time and did not report itself."""
    _declare(logbook, "converter", {"factor": factor}, body=body, from_at=_start(from_), to_at=_end(to))


@app.command("body")
def declare_body(
    body: BodyOption,
    focus_limit: Annotated[
        float | None,
        typer.Option("--focus-limit", min=1.0, help="Darkest f-number it focuses well at."),
    ] = None,
    base_iso: Annotated[float | None, typer.Option("--base-iso", min=1.0, help="Its base ISO.")] = None,
    iso_ceiling: Annotated[
        float | None, typer.Option("--iso-ceiling", min=1.0, help="The highest ISO that you accept from it.")
    ] = None,
    sensor_diagonal: Annotated[
        float | None, typer.Option("--sensor-diagonal", min=1.0, help="Of the full sensor, in mm.")
    ] = None,
    logbook: common.LogbookOption = None,
) -> None:
    """Facts of a body: focus limit, base ISO, ISO ceiling, size of the sensor."""
    facts = {
        "focus_limit_f_number": focus_limit,
        "base_iso": base_iso,
        "iso_ceiling": iso_ceiling,
        "sensor_diagonal_mm": sensor_diagonal,
    }
    said = {name: value for name, value in facts.items() if value is not None}
    if not said:
        raise typer.BadParameter("say at least one fact of the body")
    _declare(logbook, "body", said, body=body)


@app.command("clock")
def declare_clock(
    body: BodyOption,
    offset: Annotated[str, typer.Option("--offset", help="To be added to its time: +1:00, -0:03:30 ...")],
    logbook: common.LogbookOption = None,
) -> None:
    """A body's clock that was off."""
    match = _OFFSET.fullmatch(offset)
    if match is None:
        raise typer.BadParameter("write it as +H:MM or -H:MM:SS", param_hint="--offset")
    sign, hours, minutes, seconds = match.groups()
    offset_s = (int(hours) * 3600 + int(minutes) * 60 + int(seconds or 0)) * (-1 if sign == "-" else 1)
    _declare(logbook, "clock", {"offset_s": offset_s}, body=body)


@app.command("trip")
def declare_trip(
    name: Annotated[str, typer.Argument(help="The name to give.")],
    trip: common.TripOption = None,
    from_: FromOption = None,
    to: ToOption = None,
    logbook: common.LogbookOption = None,
) -> None:
    """A trip's name, for --trip or the newest; with --from and --to its ends too."""
    if (from_ is None) != (to is None):
        raise typer.BadParameter("say both --from and --to, or neither")
    with common.reading(logbook) as book:
        from auditor.store.tables import find_trip

        if from_ is None:
            chosen = find_trip(book, trip)
            from_at, to_at = chosen["first_at"], chosen["last_at"]
        else:
            from_at, to_at = _start(from_), _end(to)
    facts = {"name": name, "fixed": from_ is not None}
    _declare(logbook, "trip", facts, from_at=from_at, to_at=to_at)


@app.command("exclude")
def declare_exclude(
    paths: Annotated[list[Path] | None, typer.Argument(help="Files, or folders with all below them.")] = None,
    body: Annotated[str | None, typer.Option("--body", help="All frames of a body, such as a phone.")] = None,
    logbook: common.LogbookOption = None,
) -> None:
    """Frames to leave out of every table: test shots, phones. They stay in the logbook."""
    if not paths and body is None:
        raise typer.BadParameter("name files, folders, or a --body")
    facts = {"paths": [str(path.resolve()) for path in paths or []]}
    _declare(logbook, "exclude", facts, body=body)


@app.command("list")
def list_declarations(logbook: common.LogbookOption = None, as_json: common.JsonOption = False) -> None:
    """Everything that was declared, by whom and when; what was undone too."""
    from dataclasses import asdict

    from auditor.store import declarations

    with common.reading(logbook) as book:
        said = declarations.history(book)
    if as_json:
        common.print_json([asdict(one) for one in said])
        return
    for one in said:
        facts = ", ".join(f"{name} {value}" for name, value in sorted(one.facts.items()))
        span = (
            f", {one.from_at or 'the start'} to {one.to_at or 'the end'}" if one.from_at or one.to_at else ""
        )
        undone = f" (undone {one.undone_at[:10]})" if one.undone_at else ""
        text = f"{one.declaration_id:3}  {one.kind} {one.body or ''}: {facts}{span}"
        print(common.printable(f"{text}; {one.said_by}, {one.said_at[:10]}{undone}"))
    if not said:
        print("Nothing was declared.")


@app.command("undo")
def undo(
    number: Annotated[int, typer.Argument(help="The number that `auditor declare list` shows.")],
    logbook: common.LogbookOption = None,
) -> None:
    """Take a declaration back; the record of it stays."""
    from auditor.derive.rebuild import rebuild
    from auditor.store import declarations

    with common.reading(logbook) as book:
        with book.writing():
            undone = declarations.undo(book, number)
            declarations.touch_all(book)
        rebuild(book, common.settings_of(common.logbook_path(logbook)))
    print(f"Undone: {number}, {undone.kind} {common.printable(undone.body or '')}".rstrip())


def forget(
    folder: Annotated[Path, typer.Argument(help="A folder that was scanned; it need not be there any more.")],
    logbook: common.LogbookOption = None,
) -> None:
    """Take a folder's frames out of the logbook; the files themselves are not touched."""
    from auditor.derive.rebuild import rebuild
    from auditor.store.files import forget_folder

    with common.reading(logbook) as book:
        with book.writing():
            files, frames = forget_folder(book, str(folder.resolve()))
        if not files:
            raise LogbookError(f"{folder}: the logbook knows no files there. See: auditor frames")
        rebuild(book, common.settings_of(common.logbook_path(logbook)))
    print(f"{folder}: {files} files and {frames} frames taken out of the logbook")


def _declare(
    logbook: Path | None,
    kind: str,
    facts: dict[str, Any],
    *,
    body: str | None = None,
    from_at: str | None = None,
    to_at: str | None = None,
) -> None:
    from auditor.derive.rebuild import rebuild
    from auditor.store import declarations

    if from_at and to_at and from_at > to_at:
        raise typer.BadParameter("--from lies after --to")
    with common.reading(logbook) as book:
        with book.writing():
            number = declarations.add(book, kind, facts, body=body, from_at=from_at, to_at=to_at)
            if body is None:
                declarations.touch_all(book)
            elif not declarations.touch_body(book, body):
                raise LogbookError(f"There is no body {body!r} in the logbook. It has: {_bodies(book)}.")
        rebuild(book, common.settings_of(common.logbook_path(logbook)))
    print(f"Declared, as number {number}. To take it back: auditor declare undo {number}")


def _bodies(book: Logbook) -> str:
    from auditor.store.declarations import bodies

    named = [" ".join(filter(None, (row["body_model"], row["body_serial"]))) for row in bodies(book)]
    return "; ".join(named[:6]) or "none"


def _start(text: str | None) -> str | None:
    return None if text is None else _moment(text).isoformat()


def _end(text: str | None) -> str | None:
    """The last moment that is still within what was named: a day, a minute or a second."""
    if text is None:
        return None
    unit = {10: timedelta(days=1), 16: timedelta(minutes=1)}.get(len(text), timedelta(seconds=1))
    return (_moment(text) + unit - timedelta(microseconds=1)).isoformat()


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise typer.BadParameter(f"{text!r} is no moment: write 2026-04-18 or 2026-04-18T09:30") from error
    return moment.replace(tzinfo=None)
