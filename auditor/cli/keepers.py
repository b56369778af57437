"""keepers: frames worth keeping, listed or handed over; receipts, and taking back."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from auditor.cli import common, handover, selection
from auditor.cli.keeper_filter import KeeperFilter, with_keeper_filter

if TYPE_CHECKING:
    from auditor.keepers.choose import Passed
    from auditor.store.candidates import Candidate
    from auditor.store.logbook import Logbook
    from auditor.store.receipts import Way


class ListsByDefault(TyperGroup):
    """Without a subcommand the keepers are listed."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Put `list` before options that come without a subcommand."""
        if not args or (args[0].startswith("-") and args[0] != "--help"):
            for before, word in pairwise(args):
                if word in self.commands and not before.startswith("-"):
                    ctx.fail(
                        f"Write the subcommand first, conditions after it: auditor keepers {word} --best 2"
                    )
            args = ["list", *args]
        return super().parse_args(ctx, args)


app = typer.Typer(
    name="keepers",
    cls=ListsByDefault,
    help="Frames worth keeping: listed, or handed over with their raws and sidecars.\n\n"
    "Without a subcommand they are listed: auditor keepers --best 2. With one, conditions come after its "
    "name: auditor keepers copy FOLDER --best 2. auditor keepers list --help shows all conditions. "
    "Everything written has a receipt, and auditor keepers undo takes it back.",
    rich_markup_mode=None,
)

FolderArgument = Annotated[
    Path,
    typer.Argument(
        metavar="FOLDER", parser=common.path_given, help="Where to put them: outside the scanned folders."
    ),
]
DryRunOption = Annotated[bool, typer.Option("--dry-run", help="Only show what would be done.")]


@app.command("list")
@with_keeper_filter
def list_keepers(
    keeper_filter: KeeperFilter,
    nul: Annotated[bool, typer.Option("--nul", help="Print only paths, each followed by NUL.")] = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV instead of text.")] = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
) -> None:
    """The paths of the frames that pass, one per line.

    A frame must meet every condition; where the fact is unknown, it does not pass. Without --verdict only
    hits pass; unclear frames are counted separately.
    """
    with common.reading(logbook) as book:
        _chosen, passed = keeper_filter.choose(book, quiet)
        _print_list(book, passed, nul=nul, as_csv=as_csv, as_json=as_json)
    if not (nul or as_csv or as_json):
        _say_what_is_next(passed, logbook, quiet)


@app.command("copy")
@with_keeper_filter
def copy(
    keeper_filter: KeeperFilter,
    folder: FolderArgument,
    dry_run: DryRunOption = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
) -> None:
    """Copy keepers with their raws and sidecars, each copy verified."""
    _hand_over(keeper_filter, folder, "copy", dry_run, logbook, as_json, quiet)


@app.command("link")
@with_keeper_filter
def link(
    keeper_filter: KeeperFilter,
    folder: FolderArgument,
    symbolic: Annotated[
        bool,
        typer.Option("--symbolic", help="Symbolic links: they work only while the originals stay in place."),
    ] = False,
    dry_run: DryRunOption = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
) -> None:
    """Hard links instead of copies: no space taken, same disk only."""
    way: Way = "symbolic_link" if symbolic else "hard_link"
    _hand_over(keeper_filter, folder, way, dry_run, logbook, as_json, quiet)


@app.command("sidecars")
@with_keeper_filter
def sidecars(
    keeper_filter: KeeperFilter,
    folder: Annotated[
        Path | None,
        typer.Argument(
            metavar="FOLDER",
            parser=common.path_given,
            help="Where to put them, outside the scanned folders; each keeps its frame's path.",
        ),
    ] = None,
    beside_originals: Annotated[
        bool, typer.Option("--beside-originals", help="Write beside the frames instead of into a folder.")
    ] = False,
    write_rating: Annotated[
        int | None,
        typer.Option(
            "--write-rating", metavar="RATING", min=-1, max=5, help="The rating to write; -1 means rejected."
        ),
    ] = None,
    write_keyword: Annotated[
        list[str] | None,
        typer.Option("--write-keyword", metavar="KEYWORD", help="A keyword to write. May be repeated."),
    ] = None,
    write_flag_keyword: Annotated[
        list[str] | None,
        typer.Option(
            "--write-flag-keyword",
            metavar="FLAG=KEYWORD",
            help="A keyword for frames with a flag, such as smeared=moved. May be repeated.",
        ),
    ] = None,
    replace_ratings: Annotated[
        bool, typer.Option("--replace-ratings", help="Also replace ratings you gave yourself.")
    ] = False,
    dry_run: DryRunOption = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
) -> None:
    """Write XMP sidecars with a rating or keywords for the keepers."""
    if (folder is None) is not beside_originals:
        raise typer.BadParameter("name one place: a FOLDER, or --beside-originals")
    flag_keywords = handover.flag_keywords(write_flag_keyword or ())
    keywords = tuple(write_keyword or ())
    handover.check_marks(write_rating, [*keywords, *flag_keywords.values()])
    from auditor.keepers.sidecars import Marks, plan_sidecars

    marks = Marks(
        rating=write_rating,
        keywords=keywords,
        flag_keywords={
            selection.known_flag(flag, "--write-flag-keyword"): word for flag, word in flag_keywords.items()
        },
        replace_ratings=replace_ratings,
    )
    with common.reading(logbook) as book:
        _chosen, passed = keeper_filter.choose(book, quiet)
        plan = plan_sidecars(book, passed.kept, marks, folder)
        handover.run(book, plan, logbook=logbook, dry_run=dry_run, as_json=as_json, quiet=quiet)
    _tell_gone(passed)


@app.command("strip")
@with_keeper_filter
def strip(
    keeper_filter: KeeperFilter,
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", parser=common.path_given, help="The page to write, such as keepers.html."
        ),
    ],
    dry_run: DryRunOption = False,
    logbook: common.LogbookOption = None,
    quiet: common.QuietOption = False,
) -> None:
    """Write a contact strip: one page with the focus areas of keepers."""
    with common.reading(logbook) as book:
        chosen, passed = keeper_filter.choose(book, quiet)
        handover.write_strip(book, passed.kept, file, chosen.in_words, dry_run)
    if not dry_run:
        _say_what_is_next(passed, logbook, quiet)


@app.command("receipts")
def receipts(logbook: common.LogbookOption = None, as_json: common.JsonOption = False) -> None:
    """List what was handed over so far, each with its number."""
    with common.reading(logbook) as book:
        handover.list_receipts(book, as_json)


@app.command("undo")
def undo(
    receipt: Annotated[
        int, typer.Argument(metavar="RECEIPT", help="The number that auditor keepers receipts shows.")
    ],
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
) -> None:
    """Take back exactly what a receipt says was made."""
    with common.reading(logbook) as book:
        handover.take_back(book, receipt, as_json)


def _hand_over(
    keeper_filter: KeeperFilter,
    folder: Path,
    way: Way,
    dry_run: bool,
    logbook: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    from auditor.keepers.plan import plan_keepers

    with common.reading(logbook) as book:
        _chosen, passed = keeper_filter.choose(book, quiet)
        common.say("Checking what is there already ...", quiet)
        plan = plan_keepers(book, passed.kept, folder, way=way)
        handover.run(book, plan, logbook=logbook, dry_run=dry_run, as_json=as_json, quiet=quiet)
    _tell_gone(passed)


def _say_what_is_next(passed: Passed, logbook: Path | None, quiet: bool) -> None:
    """The command after looking through keepers; none where there are none."""
    if passed.kept:
        option = common.logbook_option(logbook)
        common.say(f"To hand them over: auditor keepers copy FOLDER{option}, with the same conditions", quiet)


def _tell_gone(passed: Passed) -> None:
    """Frames that are gone make the run incomplete: no script should empty the card after it."""
    if passed.gone:
        raise typer.Exit(3)


def _print_list(book: Logbook, passed: Passed, *, nul: bool, as_csv: bool, as_json: bool) -> None:
    from auditor.store.frame_facts import document_of, each_by_id, table_of_frames

    def documents(frames: Sequence[Candidate]) -> Iterator[dict[str, object]]:
        return map(document_of, each_by_id(book, [frame.frame_id for frame in frames]))

    if as_json:
        common.print_json(
            {
                "frames": passed.frames,
                "keepers": documents(passed.kept),
                "unclear": documents(passed.unclear),
                "gone": documents(passed.gone),
                "taken_away": passed.taken_away,
                "beyond_best": passed.beyond_best,
            }
        )
    elif as_csv:
        from auditor.report.tables import csv_lines

        kept = [frame.frame_id for frame in passed.kept]
        sys.stdout.writelines(csv_lines(table_of_frames(book, kept)))
    else:
        shown = common.printable if not nul and sys.stdout.isatty() else str
        end = "\0" if nul else "\n"
        sys.stdout.writelines(f"{shown(frame.path)}{end}" for frame in passed.kept if frame.path)
