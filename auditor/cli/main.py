"""The `auditor` command: one place that parses, one place that tells errors."""

from __future__ import annotations

import io
import sys

import typer

from auditor import __version__
from auditor.cli import audit, bench, declare, flags, hints, inspect, keepers, plan, tables
from auditor.errors import AuditorError

app = typer.Typer(
    name="auditor",
    help="After a wildlife trip: which frames are in focus, and which kit paid for itself.\n\n"
    "Point it at a folder of frames: auditor audit FOLDER. It never writes into that folder.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
for commands in (
    audit.COMMANDS,
    tables.COMMANDS,
    flags.COMMANDS,
    inspect.COMMANDS,
    plan.COMMANDS,
    bench.COMMANDS,
):
    for command in commands:
        app.command()(command)
app.add_typer(keepers.app)
app.add_typer(declare.app)
app.command()(declare.drop)
declare.app.command("hints")(hints.declare_hints)


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


def main() -> None:
    """Run a command and exit.

    0 done; 1 could not do it; 2 wrong usage; 3 done, but some files could not be read.
    """
    _write_any_letter()
    try:
        app()
    except AuditorError as error:
        one_line = " ".join(str(error).split())
        print(f"auditor: {one_line}", file=sys.stderr)
        sys.exit(1)


def _write_any_letter() -> None:
    """A letter that the output's encoding lacks is written as an escape: a run never dies of a name."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
