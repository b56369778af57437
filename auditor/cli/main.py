"""The `auditor` command: one place that parses, one place that reports errors."""

from __future__ import annotations

import contextlib
import errno
import io
import os
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from traceback import extract_tb
from typing import Any

import typer

from auditor import __version__
from auditor.cli import (
    audit,
    bench,
    check,
    common,
    declare,
    demo,
    desk,
    elsewhere,
    flags,
    hints,
    inspect,
    keepers,
    plan,
    report,
    tables,
    trips,
    weight,
)
from auditor.cli.help import PlainCommand, in_order
from auditor.errors import AuditorError, show_when_debugging

# As in README: what is done after a trip, what is asked then, what is needed now and then.
ORDER = (
    "audit", "scan", "measure", "report", "desk", "kits", "trips", "flags", "frames", "keepers", "inspect",
    "declare", "plan", "drop", "bench", "demo", "check",
)  # fmt: skip
app = typer.Typer(
    name="auditor",
    cls=in_order(*ORDER),
    help="After a wildlife trip: which frames are in focus, and which kit paid for itself.\n\n"
    "Point it at a folder of frames: auditor audit FOLDER. It never writes into that folder.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _first_paragraph(command: Callable[..., None]) -> str:
    return " ".join((command.__doc__ or "").split("\n\n")[0].split())


for commands in (
    audit.COMMANDS,
    report.COMMANDS,
    tables.COMMANDS,
    flags.COMMANDS,
    inspect.COMMANDS,
    check.COMMANDS,
    demo.COMMANDS,
    plan.COMMANDS,
    trips.COMMANDS,
    bench.COMMANDS,
    desk.COMMANDS,
):
    for command in commands:
        # Given whole, since it would be cut off in the list of commands.
        app.command(short_help=_first_paragraph(command))(command)
app.add_typer(keepers.app, short_help="List the frames worth keeping, or hand them over.")
app.add_typer(declare.app, short_help="Say what no file records; everything can be undone.")
app.command(short_help=_first_paragraph(declare.drop))(declare.drop)
declare.app.command("hints")(hints.declare_hints)
declare.app.command("elsewhere")(elsewhere.declare_elsewhere)
declare.app.command("weight")(weight.declare_weight)
for group in (app, keepers.app, declare.app):
    for registered in group.registered_commands:
        registered.cls = PlainCommand


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"auditor {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Print the version."
    ),
) -> None:
    pass


@cache
def _program() -> Any:
    """The commands with their options: working them out takes longer than most of what is asked of them."""
    return typer.main.get_command(app)


def main() -> None:
    """Run a command and exit.

    0 done; 1 could not do it; 2 wrong usage; 3 done, but some files could not be read or are no longer there.
    """
    _write_any_letter()
    # The matrices here are small: threads over them cost more than they bring, and files are read in
    # processes, one a core. Said before NumPy is loaded, and only where the user has said nothing.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        try:
            code = _program()(prog_name="auditor", standalone_mode=False)
        finally:
            sys.stdout.flush()
        if code == _INTERRUPTED:
            print("auditor: Stopped. Run the same command again to go on.", file=sys.stderr)
        sys.exit(code or 0)
    except typer.Abort:  # a question that got no answer
        sys.exit(1)
    except _WRONG_USAGE as error:
        if type(error).__name__ == "NoArgsIsHelpError":
            error.show()
        else:
            print(_usage_line(error), file=sys.stderr)
        sys.exit(2)
    except AuditorError as error:
        one_line = common.printable(" ".join(str(error).split()))
        print(f"auditor: {one_line}", file=sys.stderr)
        sys.exit(1)
    except BrokenPipeError:
        # What reads the output wants no more of it, as `head` does: nothing to say.
        _write_no_more()
        sys.exit(1)
    except OSError as error:
        if error.filename is not None or error.errno not in _OUTPUT_REFUSED:
            _say_what_nobody_foresaw(error)
        else:
            _write_no_more()
            print(f"auditor: the output cannot be written: {error.strerror}", file=sys.stderr)
        sys.exit(1)
    except Exception as error:  # noqa: BLE001 - a page of code helps nobody on the last evening of a trip
        _say_what_nobody_foresaw(error)
        sys.exit(1)


_INTERRUPTED = 130
"""What becomes of Ctrl-C where no command says more: 128 + SIGINT, as shells have it."""
_WRONG_USAGE: Any = typer.BadParameter.__mro__[1]
"""Whatever the library of the command line raises for wrong usage; it has no name of its own there."""


def _usage_line(error: Any) -> str:
    """Command, argument and value in one line, and where to look."""
    command = "auditor" if error.ctx is None else error.ctx.command_path
    message = " ".join(error.format_message().split()).replace("Input should be", "it must be")
    message = message.replace("Value error, ", "")
    if not message.endswith("..."):  # three dots stand for what may follow
        message = message.rstrip(".")
    if error.ctx is not None and "it must be" in message:
        message = message.partition(", unable to parse")[0] + _not_this(getattr(error, "param", None))
    ended = message if message.endswith(("...", "?")) else f"{message}."
    return f"{command}: {ended[:1].lower()}{ended[1:]} See: {command} --help"


def _not_this(param: Any) -> str:
    """The value that was given for an option, which the library's own message leaves out."""
    for word, after in zip(sys.argv, [*sys.argv[1:], ""], strict=True):
        option, equals, value = word.partition("=")
        if param is not None and option in param.opts:
            return f", not {(value if equals else after)!r}"
    return ""


def _say_what_nobody_foresaw(error: Exception) -> None:
    """Where the auditor itself is wrong: in one line, what it was and where."""
    show_when_debugging()
    frames = [frame for frame in extract_tb(error.__traceback__) if _PACKAGE in Path(frame.filename).parents]
    where = f" ({Path(frames[-1].filename).name}, line {frames[-1].lineno})" if frames else ""
    # A worker's error brings all its lines along; the last one says what it was.
    said = " ".join((str(error).strip().splitlines() or [""])[-1].split())
    what = common.printable(f"{type(error).__name__}: {said}".removesuffix(": "))
    print(
        f"auditor: It failed at something that nobody foresaw: {what}{where}. What was read and measured "
        "before is kept. With AUDITOR_DEBUG=1 set it shows more.",
        file=sys.stderr,
    )


_PACKAGE = Path(__file__).parents[1]
_OUTPUT_REFUSED = (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EFBIG)
"""Errors of a write to standard output, which have no file name: full, over the quota, broken."""


def _write_no_more() -> None:
    """What is still buffered goes nowhere, so that Python does not fail again as it ends."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _write_any_letter() -> None:
    """A letter that the output's encoding lacks is written as an escape: a run never dies of a name."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
