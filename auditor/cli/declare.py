"""declare and drop: what no file records, and taking a folder out of the logbook."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from auditor.cli import common, selection
from auditor.cli.declared import as_document, line_of, say_changed, say_declared
from auditor.cli.help import in_order
from auditor.errors import LogbookError
from auditor.file_names import as_text
from auditor.frames import typed_times
from auditor.readers.places import as_listed

if TYPE_CHECKING:
    from auditor.store.declared_facts import Said

app = typer.Typer(
    name="declare",
    cls=in_order(
        "converter", "body", "clock", "trip", "exclude", "elsewhere", "weight", "hints", "list", "undo"
    ),
    help="Say what no file records: a converter that did not report itself, facts of a body, a clock that "
    "was wrong, a trip's name and dates, frames to leave out. Everything can be undone.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

BodyOption = Annotated[
    str,
    typer.Option(
        "--body",
        metavar="BODY",
        help="Its name as tables show it, its serial number, or a model for all bodies of it.",
    ),
]
FromOption = Annotated[
    str | None, typer.Option("--from", metavar="MOMENT", help="Start: 2026-04-18T09:30, or a day.")
]
ToOption = Annotated[
    str | None, typer.Option("--to", metavar="MOMENT", help="End, that day or minute included.")
]
AlwaysOption = Annotated[bool, typer.Option("--always", help="At all times, instead of --from and --to.")]


@app.command("converter")
def declare_converter(
    body: BodyOption,
    factor: Annotated[
        float,
        typer.Option(
            "--factor", metavar="FACTOR", min=1.0, max=3.0, help="Such as 1.4 or 2; 1 for no converter."
        ),
    ],
    from_: FromOption = None,
    to: ToOption = None,
    always: AlwaysOption = False,
    logbook: common.LogbookOption = None,
) -> None:
    """A converter that was on and did not report itself.

    Times are the ones that tables show. A frame that records another converter keeps it.
    """
    from auditor.store.declared_facts import ConverterFacts, Said

    from_at, to_at = span_said(from_, to, always)
    _refuse_future(from_at, to_at)
    _declare(logbook, [Said(facts=ConverterFacts(factor=factor), body=body, from_at=from_at, to_at=to_at)])


@app.command("body")
def declare_body(
    body: BodyOption,
    focus_limit: Annotated[
        float | None,
        typer.Option(
            "--focus-limit", metavar="F-NUMBER", min=1.0, help="Highest f-number at which it focuses well."
        ),
    ] = None,
    base_iso: Annotated[
        float | None, typer.Option("--base-iso", metavar="ISO", min=1.0, help="Its base ISO.")
    ] = None,
    iso_ceiling: Annotated[
        float | None,
        typer.Option(
            "--iso-ceiling",
            metavar="ISO",
            min=1.0,
            help="The highest ISO you accept. Undeclared: 6400, or 3200 on a smaller sensor.",
        ),
    ] = None,
    sensor_diagonal: Annotated[
        float | None,
        typer.Option("--sensor-diagonal", metavar="MM", min=1.0, help="Diagonal of the full sensor, in mm."),
    ] = None,
    auto_iso: Annotated[
        bool, typer.Option("--auto-iso", help="ISO was on auto even in manual exposure.")
    ] = False,
    logbook: common.LogbookOption = None,
) -> None:
    """Facts of a body: focus limit, ISO ceiling, Auto ISO, sensor."""
    from auditor.store.declared_facts import BodyFacts, Said

    facts = BodyFacts(
        focus_limit_f_number=focus_limit,
        base_iso=base_iso,
        iso_ceiling=iso_ceiling,
        sensor_diagonal_mm=sensor_diagonal,
        auto_iso=auto_iso or None,
    )
    if facts == BodyFacts():
        raise typer.BadParameter("give at least one fact about the body")
    _declare(logbook, [Said(facts=facts, body=body)])


@app.command("clock")
def declare_clock(
    body: BodyOption,
    offset: Annotated[
        str,
        typer.Option(
            "--offset", metavar="OFFSET", help="What to add to its times: +1 (an hour), 1:00 or -0:02:30."
        ),
    ],
    from_: FromOption = None,
    to: ToOption = None,
    always: AlwaysOption = False,
    logbook: common.LogbookOption = None,
) -> None:
    """A body's clock that was wrong.

    --from and --to are times by that clock, as the files record them.
    """
    from auditor.store.declared_facts import ClockFacts, Said

    offset_s = _read("--offset", typed_times.offset_s, offset)
    from_at, to_at = span_said(from_, to, always)
    _declare(logbook, [Said(facts=ClockFacts(offset_s=offset_s), body=body, from_at=from_at, to_at=to_at)])


@app.command("trip")
def declare_trip(
    name: Annotated[str, typer.Argument(metavar="NAME", help="The new name.")],
    trip: selection.TripOption = None,
    from_: FromOption = None,
    to: ToOption = None,
    logbook: common.LogbookOption = None,
) -> None:
    """A trip's name; with --from and --to, its start and end.

    Without them it names the trip given by --trip, or the newest.
    """
    from auditor.store.declared_facts import Said, TripFacts
    from auditor.store.trips import find_trip

    if not name.strip():
        raise typer.BadParameter("a name cannot be empty", param_hint="NAME")
    if (from_ is None) != (to is None):
        raise typer.BadParameter("give both --from and --to, or neither")
    if from_ is not None and trip is not None:
        raise typer.BadParameter("give --trip, or --from and --to: each says which trip is meant")
    from_at: str | None
    to_at: str | None
    if from_ is None:
        with common.reading(logbook) as book:
            chosen = find_trip(book, trip)
        from_at, to_at = chosen.first_at, chosen.last_at
    else:
        from_at, to_at = span_said(from_, to, False)
        _refuse_future(from_at, to_at)
    _declare(
        logbook, [Said(facts=TripFacts(name=name, fixed=from_ is not None), from_at=from_at, to_at=to_at)]
    )


@app.command("exclude")
def declare_exclude(
    paths: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="PATH", parser=common.path_given, help="Files, or folders with everything below them."
        ),
    ] = None,
    body: Annotated[
        str | None, typer.Option("--body", metavar="BODY", help="All frames of a body, such as a phone.")
    ] = None,
    from_: FromOption = None,
    to: ToOption = None,
    always: AlwaysOption = False,
    logbook: common.LogbookOption = None,
) -> None:
    """Frames to leave out of every table: test shots, phones. They stay in the logbook.

    A body needs --from and --to, or --always; files and folders do not.
    """
    from auditor.store.declared_facts import ExcludeFacts, Said

    statements = []
    if body is not None:
        from_at, to_at = span_said(from_, to, always)
        _refuse_future(from_at, to_at)
        statements.append(Said(facts=ExcludeFacts(), body=body, from_at=from_at, to_at=to_at))
    elif from_ or to or always:
        raise typer.BadParameter("--from, --to and --always go with --body")
    statements += [
        Said(facts=ExcludeFacts(paths=(as_text(as_listed(path.resolve())),))) for path in paths or ()
    ]
    if not statements:
        raise typer.BadParameter("name files, folders, or a --body")
    _declare(logbook, statements)


@app.command("list")
def list_declarations(logbook: common.LogbookOption = None, as_json: common.JsonOption = False) -> None:
    """Everything that was declared, when and by whom."""
    from auditor.frames.body_names import body_names
    from auditor.store import declarations, derived

    with common.reading(logbook) as book:
        history = declarations.history(book)
        names = body_names(derived.kits(book))
    if as_json:
        common.print_json([as_document(declaration) for declaration in history])
        return
    for declaration in history:
        line, number = common.printable(line_of(declaration, names)), f"{declaration.declaration_id:3}  "
        print(common.filled(line, common.width(), first=number, then="     "))
    if not history:
        print("Nothing was declared.")


@app.command("undo")
def undo(
    number: Annotated[
        int, typer.Argument(metavar="NUMBER", help="The number that auditor declare list shows.")
    ],
    logbook: common.LogbookOption = None,
) -> None:
    """Take back a declaration, and those made together with it.

    auditor declare list still shows it.
    """
    from auditor.derive.declaring import undo as undo_declaration
    from auditor.frames.body_names import body_names
    from auditor.report.text.declarations import sentence
    from auditor.store import derived

    with common.reading(logbook) as book:
        undone, effect = undo_declaration(book, common.settings_of(book.path), number)
        names = body_names(derived.kits(book))
    for declaration in undone:
        print(f"Undone: {declaration.declaration_id}. {common.printable(sentence(declaration, names))}.")
    say_changed(effect)


def drop(
    folder: Annotated[
        Path,
        typer.Argument(
            metavar="FOLDER",
            parser=common.path_given,
            help="A folder that was scanned; it does not have to exist any more.",
        ),
    ],
    logbook: common.LogbookOption = None,
) -> None:
    """Take a folder's frames out of the logbook; the files themselves are not touched."""
    from auditor.derive.rebuild import rebuild
    from auditor.store.files import drop_folder

    with common.reading(logbook) as book:
        with book.writing():
            files, frames = drop_folder(book, as_text(as_listed(folder.resolve())))
        if not files:
            raise LogbookError(f"{folder}: the logbook knows no files there. See: auditor frames")
        rebuild(book, common.settings_of(common.logbook_path(logbook)))
    taken_out = f"{common.counted(files, 'file')} and {common.counted(frames, 'frame')}"
    print(f"{common.printable(str(folder))}: {taken_out} taken out of the logbook")


def _declare(logbook: Path | None, statements: Sequence[Said]) -> None:
    from auditor.derive.declaring import declare

    with common.reading(logbook) as book:
        number, effect = declare(book, common.settings_of(book.path), statements)
    say_declared(number, effect, logbook)


def span_said(from_: str | None, to: str | None, always: bool) -> tuple[str | None, str | None]:
    """A span that was said in full: both ends, or none with --always."""
    if always:
        if from_ or to:
            raise typer.BadParameter("give --always, or --from and --to")
        return None, None
    from_at = None if from_ is None else _read("--from", typed_times.moment, from_).isoformat()
    to_at = None if to is None else _read("--to", typed_times.last_moment, to).isoformat()
    if from_at is None or to_at is None:
        raise typer.BadParameter("give --from and --to, or --always")
    if from_at > to_at:
        raise typer.BadParameter("--from lies after --to")
    return from_at, to_at


def _refuse_future(from_at: str | None, to_at: str | None) -> None:
    """Nothing can be known of frames that are not taken yet; a day is left for other time zones."""
    tomorrow = (datetime.now() + timedelta(days=1)).date().isoformat()  # cameras keep local time
    for option, moment in (("--from", from_at), ("--to", to_at)):
        if moment is not None and moment[:10] > tomorrow:
            raise typer.BadParameter(f"{moment[:10]} lies in the future", param_hint=option)


T = TypeVar("T")


def _read(option: str, read: Callable[[str], T], text: str) -> T:
    """What was typed, as a moment or an offset; refused under the name of its option."""
    try:
        return read(text)
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint=option) from error
