"""check: where the logbook is and whether it is sound, and what cannot be read or waits."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Annotated, Any

import typer

from auditor import __version__
from auditor.cli import common
from auditor.cli.hints import as_document

if TYPE_CHECKING:
    from auditor.store.logbook import Logbook

DISAGREEING_SHOWN = 10
MOST_TRIPS_NAMED = 3


def check(
    backup: Annotated[
        Path | None,
        typer.Option(
            "--backup",
            metavar="FILE",
            parser=common.path_given,
            help="Copy the whole logbook to a new file.",
        ),
    ] = None,
    repair: Annotated[
        Path | None,
        typer.Option(
            "--repair",
            metavar="FILE",
            parser=common.path_given,
            help="Save what can be saved of a damaged logbook into a new file.",
        ),
    ] = None,
    tidy: Annotated[
        bool,
        typer.Option(
            "--tidy",
            help="Remove kept pictures that no frame has any more, and the oldest beyond the setting "
            "focus_pictures_mb.",
        ),
    ] = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
) -> None:
    """Where the logbook is and whether it is sound, and files that cannot be read or reached."""
    path = common.logbook_path(logbook)
    if (backup is not None) + (repair is not None) + tidy > 1:
        raise typer.BadParameter("give one at a time", param_hint="--backup, --repair and --tidy")
    if tidy:
        from auditor.cli import room

        room.make_room(logbook, as_json=as_json)
        return
    if backup is not None or repair is not None:
        from auditor.cli import copies

        if backup is not None:
            copies.back_up(logbook, backup, as_json=as_json)
        elif repair is not None:
            copies.save_what_can_be_saved(path, repair, as_json=as_json)
        return
    with common.reading(logbook) as book:
        document = _state_of(book, path)
    if as_json:
        common.print_json(document)
    else:
        _print_check(document, common.logbook_option(logbook))
        _print_waiting(document, common.logbook_option(logbook))
    if not document["sound"]:
        raise typer.Exit(1)
    if document["unreadable"] or document["out_of_reach"]:
        raise typer.Exit(3)


def _state_of(book: Logbook, path: Path) -> dict[str, Any]:
    """The state of a logbook, as JSON has it."""
    from auditor.analysis.hints import hints
    from auditor.analysis.ratings import agreement
    from auditor.jobs.reach import waiting_now
    from auditor.readers.makernotes import installed
    from auditor.store.counts import counts
    from auditor.store.unreadable import unreadable_files

    problems = book.problems()
    waiting = waiting_now(book, common.settings_of(book.path))
    return {
        "auditor": __version__,
        "logbook": str(path.absolute()),
        "sound": not problems,
        "problems": problems,
        **counts(book),
        "maker_notes": sorted(installed()),
        "hints": [as_document(number, hint) for number, hint in enumerate(hints(book), 1)],
        "ratings": asdict(agreement(book)),
        "unreadable": [asdict(file) for file in unreadable_files(book)],
        "waiting": waiting.in_reach + len(waiting.out_of_reach),
        "out_of_reach": [{"path": path, "reason": reason} for path, reason in waiting.out_of_reach],
    }


def _print_check(document: dict[str, Any], option: str) -> None:
    print(f"auditor {document['auditor']}")
    print(f"Logbook: {document['logbook']}, {'sound' if document['sound'] else 'DAMAGED'}")
    for problem in document["problems"]:
        print(f"  {problem}")
    print(
        f"{common.counted(document['frames'], 'frame')} in {common.counted(document['files'], 'file')}, "
        f"{common.counted(document['trips'], 'trip')}"
    )
    print(common.wrapped(f"Maker notes read: {', '.join(document['maker_notes']) or 'none'}"))
    if document["hints"]:
        trips = dict.fromkeys(common.printable(hint["trip"]) for hint in document["hints"])
        command = f"auditor declare hints{option}"
        where = ", ".join(trips) if len(trips) <= MOST_TRIPS_NAMED else f"{len(trips):,} trips"
        print(common.wrapped(f"Hints: {len(document['hints']):,}, on {where}."))
        print(f"To see them: {command}")
    for line in _ratings(document["ratings"]):
        print(line)
    print(f"Cannot be read now: {common.counted(len(document['unreadable']), 'file')}")
    for row in document["unreadable"]:
        print(f"  {common.printable(row['path'])}: {common.printable(row['reason'])}")


def _print_waiting(document: dict[str, Any], option: str) -> None:
    """Pictures that are not measured yet: how many could be now, which are out of reach, and how to go on."""
    away = Counter((str(PurePath(row["path"]).parent), row["reason"]) for row in document["out_of_reach"])
    in_reach = document["waiting"] - sum(away.values())
    if in_reach:
        print(f"Not measured yet: {common.counted(in_reach, 'picture')}. To go on: auditor measure{option}")
    if away:
        print(f"Out of reach now, not measured yet: {common.counted(sum(away.values()), 'picture')}")
    for (folder, reason), pictures in away.items():
        print(
            f"  {common.printable(folder)}: {common.counted(pictures, 'picture')}, {common.printable(reason)}"
        )
    if away:
        print(f"Connect the card or disk, or see to the permission; then: auditor measure{option}")


def _ratings(ratings: dict[str, Any]) -> list[str]:
    """The photographer's ratings beside the verdicts; nothing where there are none."""
    rated = sum(ratings[name] for name in ("liked_hits", "liked_misses", "disliked_hits", "disliked_misses"))
    if not rated:
        return []
    lines = [
        f"Your ratings beside the verdicts, {common.counted(rated, 'frame')}:",
        f"  rated 3 or more: {ratings['liked_hits']} in focus, {ratings['liked_misses']} not",
        f"  rated lower: {ratings['disliked_hits']} in focus, {ratings['disliked_misses']} not",
    ]
    if ratings["kappa"] is not None:
        lines.append(f"  agreement beyond chance (Cohen's kappa): {ratings['kappa']:.2f}")
        if ratings["liked_misses"] > ratings["liked_hits"]:
            lines.append(
                "  You like many frames that miss: a crop under 1 in auditor.toml would ask for less"
            )
    return lines + _rated_otherwise(ratings["rated_otherwise"])


def _rated_otherwise(frames: Sequence[dict[str, Any]]) -> list[str]:
    """The first frames whose rating does not go with the verdict, and how to see all."""
    if not frames:
        return []
    lines = [f"  {common.counted(len(frames), 'frame')} where your rating and the verdict disagree:"]
    for frame in frames[:DISAGREEING_SHOWN]:
        name = common.printable(PurePath(frame["path"] or "").name)
        lines.append(f"    {name}: {frame['verdict']}, you rated it {frame['rating']}")
    if len(frames) > DISAGREEING_SHOWN:
        lines.append(f"    and {len(frames) - DISAGREEING_SHOWN:,} more; all of them: auditor check --json")
    return lines


COMMANDS = (check,)
