"""declare and drop: what no file records, and taking a folder out of the logbook."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from auditor.cli import common, selection
from auditor.errors import LogbookError
from auditor.file_names import as_text
from auditor.frames import typed_times
from auditor.readers.places import as_listed

if TYPE_CHECKING:
    from auditor.derive.declaring import Effect, FrameState
    from auditor.store.declarations import Declaration
    from auditor.store.declared_facts import Said

app = typer.Typer(
    name="declare",
    help="Say what no file records: a converter that did not report itself, facts of a body, a clock that "
    "was wrong, a trip's name and dates, frames to leave out. Everything can be undone.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

BodyOption = Annotated[str, typer.Option("--body", metavar="BODY", help="Its serial number or its model.")]
FromOption = Annotated[
    str | None, typer.Option("--from", metavar="MOMENT", help="Start: 2026-04-18T09:30, or a day.")
]
ToOption = Annotated[
    str | None, typer.Option("--to", metavar="MOMENT", help="End, that day or minute included.")
]
AlwaysOption = Annotated[bool, typer.Option("--always", help="For all time, instead of --from and --to.")]


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
        typer.Option("--iso-ceiling", metavar="ISO", min=1.0, help="The highest ISO you accept."),
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
        raise typer.BadParameter("say at least one fact of the body")
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
    """A body's clock that was wrong for a while.

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
    from auditor.store.tables import find_trip

    if not name.strip():
        raise typer.BadParameter("a name cannot be empty", param_hint="NAME")
    if (from_ is None) != (to is None):
        raise typer.BadParameter("say both --from and --to, or neither")
    if from_ is not None and trip is not None:
        raise typer.BadParameter("say --trip, or --from and --to: each says which trip is meant")
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

    said = []
    if body is not None:
        from_at, to_at = span_said(from_, to, always)
        _refuse_future(from_at, to_at)
        said.append(Said(facts=ExcludeFacts(), body=body, from_at=from_at, to_at=to_at))
    elif from_ or to or always:
        raise typer.BadParameter("--from, --to and --always go with --body")
    said += [Said(facts=ExcludeFacts(paths=(as_text(as_listed(path.resolve())),))) for path in paths or ()]
    if not said:
        raise typer.BadParameter("name files, folders, or a --body")
    _declare(logbook, said)


@app.command("list")
def list_declarations(logbook: common.LogbookOption = None, as_json: common.JsonOption = False) -> None:
    """Everything that was declared, when and by whom."""
    from auditor.store import declarations

    with common.reading(logbook) as book:
        history = declarations.history(book)
    if as_json:
        common.print_json([_as_document(declaration) for declaration in history])
        return
    for declaration in history:
        print(common.printable(_line(declaration)))
    if not history:
        print("Nothing was declared.")


@app.command("undo")
def undo(
    number: Annotated[
        int, typer.Argument(metavar="NUMBER", help="The number that `auditor declare list` shows.")
    ],
    logbook: common.LogbookOption = None,
) -> None:
    """Take back a declaration, and those made together with it.

    auditor declare list still shows it.
    """
    from auditor.derive.declaring import undo as undo_declaration

    with common.reading(logbook) as book:
        undone, effect = undo_declaration(book, common.settings_of(book.path), number)
    for declaration in undone:
        what = f"{declaration.declaration_id}, {declaration.kind.replace('_', ' ')} {declaration.body or ''}"
        print(f"Undone: {common.printable(what).rstrip()}")
    _say_changed(effect)


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


def _declare(logbook: Path | None, said: Sequence[Said]) -> None:
    from auditor.derive.declaring import declare

    with common.reading(logbook) as book:
        number, effect = declare(book, common.settings_of(book.path), said)
    say_declared(number, effect, logbook)


def say_declared(number: int, effect: Effect, logbook: Path | None) -> None:
    """Tell what a declaration changed, with an example, and how to take it back."""
    print(f"Declared as number {number}.", end=" ")
    _say_changed(effect)
    print(f"To take it back: auditor declare undo {number}{common.logbook_option(logbook)}")


def _say_changed(effect: Effect) -> None:
    print(f"{common.counted(len(effect.changed), 'frame')} changed.")
    if effect.refused:
        print(f"Recorded another converter, which stands: {common.counted(effect.refused, 'frame')}.")
    if effect.example is not None:
        for line in example_lines(effect.example.before, effect.example.after):
            print(f"  {common.printable(effect.example.file_name)}: {common.printable(line)}")


def example_lines(before: FrameState, after: FrameState) -> list[str]:
    """What becomes different of a frame, one fact a line."""
    facts = (
        ("trip", before.trip, after.trip),
        ("taken", _moment_text(before.taken_at), _moment_text(after.taken_at)),
        ("converter", _converter(before), _converter(after)),
        ("focal length", _number(before.focal_length_mm, "{:.0f} mm"),
         _number(after.focal_length_mm, "{:.0f} mm")),
        ("f-number", _number(before.f_number, "f/{:.2g}"), _number(after.f_number, "f/{:.2g}")),
        ("ISO without converter, up to", _number(before.iso_without_converter, "{:.0f}"),
         _number(after.iso_without_converter, "{:.0f}")),
        ("sensor diagonal", _number(before.sensor_diagonal_mm, "{:.1f} mm"),
         _number(after.sensor_diagonal_mm, "{:.1f} mm")),
        ("light", _number(before.light_value_ev, "{:.1f} EV"), _number(after.light_value_ev, "{:.1f} EV")),
        ("flags", ", ".join(before.flags) or "none", ", ".join(after.flags) or "none"),
        ("gaps beside it", _gaps(before), _gaps(after)),
        ("counted", "no" if before.excluded else "yes", "no" if after.excluded else "yes"),
    )  # fmt: skip
    return [f"{name} {was} -> {becomes}" for name, was, becomes in facts if was != becomes]


def _converter(state: FrameState) -> str:
    factor = state.converter_factor
    return "unknown" if factor is None else "none" if factor == 1 else f"{factor:g}x"


def _gaps(state: FrameState) -> str:
    return "frames kept elsewhere" if state.kept_elsewhere else "may be deleted frames"


def _number(value: float | None, shape: str) -> str:
    return "not known" if value is None else shape.format(value)


def _minute(moment: str) -> str:
    return moment[:16].replace("T", " ")


def _moment_text(moment: str | None) -> str:
    return "not known" if moment is None else moment[:19].replace("T", " ")


def _as_document(declaration: Declaration) -> dict[str, object]:
    from auditor.store.declared_facts import as_json

    return {
        "declaration_id": declaration.declaration_id,
        "said_with": declaration.said_with,
        "kind": declaration.kind,
        "body": declaration.body,
        "from_at": declaration.from_at,
        "to_at": declaration.to_at,
        "facts": as_json(declaration.facts),
        "said_at": declaration.said_at,
        "said_by": declaration.said_by,
        "undone_at": declaration.undone_at,
    }


def _rejected(facts: dict[str, Any]) -> str:
    """What a hint asked that was answered with no."""
    value = facts.get("value")
    if facts["about"] == "converter":
        return f"no {value:g}x converter"
    return "the clock was right" if value is None else f"the clock was not {value / 3600:+g} h off"


FACTS: dict[str, Callable[[Any], str]] = {
    "auto_iso": lambda left: "ISO on auto" if left else "ISO not on auto",
    "base_iso": "base ISO {:g}".format,
    "converter_factor": "{:g}x converter".format,
    "factor": lambda factor: "none" if factor == 1 else f"{factor:g}x",
    "fixed": lambda fixed: "with its start and end" if fixed else "named only",
    "focus_limit_f_number": "focuses well to f/{:g}".format,
    "iso_ceiling": "ISO ceiling {:g}".format,
    "lens": str,
    "name": str,
    "offset_s": lambda offset_s: f"{'-' if offset_s < 0 else '+'}{timedelta(seconds=abs(offset_s))}",
    "paths": ", ".join,
    "sensor_diagonal_mm": "sensor diagonal {:g} mm".format,
    "weight_g": "{:g} g".format,
}
"""How the list of declarations says each fact of `store.declared_facts`."""


def _line(declaration: Declaration) -> str:
    from auditor.store.declared_facts import as_json

    facts = as_json(declaration.facts)
    bursts = facts.pop("bursts", [])
    if declaration.kind == "rejected_hint":
        parts = [_rejected(facts)]
    else:
        parts = [FACTS[name](value) for name, value in sorted(facts.items())]
    if bursts:
        parts.append(f"{common.counted(len(bursts), 'burst')} from {_moment_text(bursts[0][0])}")
    if declaration.from_at or declaration.to_at:
        ends = (declaration.from_at, "the start"), (declaration.to_at, "the end")
        parts.append(" to ".join(_minute(at) if at else always for at, always in ends))
    if declaration.said_with:
        parts.append(f"declared with {declaration.said_with}")
    undone = f" (undone {declaration.undone_at[:10]})" if declaration.undone_at else ""
    what = f"{declaration.kind.replace('_', ' ')} {declaration.body or ''}".strip()
    about = ", ".join(parts)
    return (
        f"{declaration.declaration_id:3}  {what}: {about}; "
        f"{declaration.said_by}, {declaration.said_at[:10]}{undone}"
    )


def span_said(from_: str | None, to: str | None, always: bool) -> tuple[str | None, str | None]:
    """A span that was said in full: both ends, or none with --always."""
    if always:
        if from_ or to:
            raise typer.BadParameter("say --always, or --from and --to")
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
