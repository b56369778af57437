"""The `auditor` command: one place that parses, one place that tells errors."""

from __future__ import annotations

import os
import sys

import click
import typer

from auditor import __version__
from auditor.cli import audit, inspect, tables
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
for commands in (audit.COMMANDS, tables.COMMANDS, inspect.COMMANDS):
    for command in commands:
        app.command()(command)


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
    """Run a command. Exit codes: 0 done; 1 could not do it; 2 wrong usage; 3 done, but some files
    could not be read."""
    try:
        code = app(standalone_mode=False)
    except AuditorError as error:
        _tell(str(error))
        code = 1
    except click.exceptions.NoArgsIsHelpError as error:
        error.show()
        code = 2
    except click.ClickException as error:
        error.show()
        code = error.exit_code
    except (click.Abort, KeyboardInterrupt):
        _tell("stopped. What was done so far is kept; run the same command again to go on.")
        code = 1
    except BrokenPipeError:
        # The reader of a pipe went away (`auditor frames | head`): nobody is left to tell.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 1
    sys.exit(code or 0)


def _tell(message: str) -> None:
    one_line = " ".join(message.split())
    print(f"auditor: {one_line}", file=sys.stderr)
