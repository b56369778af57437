"""declare hints: what was noticed and no file says, accepted or rejected several at once."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.cli import common, declared

if TYPE_CHECKING:
    from auditor.analysis.hint_kinds import Hint
    from auditor.derive.declaring import Effect
    from auditor.store.logbook import Logbook


def declare_hints(
    trip: Annotated[
        str | None,
        typer.Option("--trip", metavar="TRIP", help="Only hints about this trip, by name or number."),
    ] = None,
    accept: Annotated[
        str | None,
        typer.Option("--accept", metavar="NUMBERS", help="Declare what these suggest: 1,3-5 or all."),
    ] = None,
    reject: Annotated[
        str | None,
        typer.Option("--reject", metavar="NUMBERS", help="Do not ask these again: 2 or 2,4-6."),
    ] = None,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
) -> None:
    """Questions about what no file says, to accept or reject.

    They are numbered across all trips, and anew from 1 once some are answered.
    """
    from auditor.analysis.hints import hints

    with common.reading(logbook) as book:
        every = hints(book)
        if accept is None and reject is None:
            shown = _of_trip(book, every, trip)
            _print_hints(book, shown, logbook, as_json)
            return
        if trip is not None:
            raise typer.BadParameter("the numbers run across all trips: leave out --trip")
        _answer_hints(book, every, accept, reject, logbook)


def as_document(number: int, hint: Hint, effect: Effect | None = None) -> dict[str, object]:
    """A hint as JSON."""
    from auditor.report.text.hints import question

    return {
        "number": number,
        "trip_id": hint.trip.trip_id,
        "trip": hint.trip.name,
        "body": hint.body,
        "question": question(hint),
        "frames": None if effect is None else len(effect.changed),
    }


def _of_trip(book: Logbook, every: list[Hint], trip: str | None) -> list[tuple[int, Hint]]:
    """Hints with their numbers, of one trip or of all."""
    from auditor.store.trips import find_trip

    trip_id = None if trip is None else find_trip(book, trip).trip_id
    return [(number, hint) for number, hint in enumerate(every, 1) if trip_id in (None, hint.trip.trip_id)]


def _print_hints(book: Logbook, shown: list[tuple[int, Hint]], logbook: Path | None, as_json: bool) -> None:
    from auditor.derive.declaring import effect_of
    from auditor.report.text.hints import answer, heading, question

    effects = {number: effect_of(book, [hint.said]) for number, hint in shown if hint.said is not None}
    if as_json:
        common.print_json([as_document(number, hint, effects.get(number)) for number, hint in shown])
        return
    for number, hint in shown:
        print(common.wrapped(f"{number}. {heading(hint)}", indent=0))
        print(common.wrapped(question(hint), indent=3))
        if number in effects:
            _print_offer(effects[number])
        elif text := answer(hint):
            print(common.wrapped(text, indent=3))
    if not shown:
        print("No hints.")
        return
    option = common.logbook_option(logbook)
    which = "it" if len(shown) == 1 else "some"
    print()
    if effects:  # a date that is wrong can only be rejected: no offset mends it
        first, last = min(effects), max(effects)
        some = f"{first}" if first == last else f"{first},{last}"
        print(f"To accept {which}: auditor declare hints --accept {some}{option}")
    print(f"To reject {which} for good: auditor declare hints --reject {shown[-1][0]}{option}")


def _print_offer(effect: Effect) -> None:
    print(f"   Accepting it changes {common.counted(len(effect.changed), 'frame')}.")
    if effect.example is not None:
        lines = declared.example_lines(effect.example.before, effect.example.after)
        print(common.wrapped(f"{effect.example.file_name}: {'; '.join(lines[:2])}", indent=3))


def _answer_hints(
    book: Logbook, every: list[Hint], accept: str | None, reject: str | None, logbook: Path | None
) -> None:
    from auditor.derive.declaring import declare as declare_all
    from auditor.report.text.hints import not_accepted

    accepted = _numbers(accept, len(every), "--accept")
    rejected = _numbers(reject, len(every), "--reject")
    if both := sorted(set(accepted) & set(rejected)):
        raise typer.BadParameter(f"hint {both[0]} is both accepted and rejected")
    offers = {number: every[number - 1].said for number in accepted}
    statements = [offered for offered in offers.values() if offered is not None]
    none_to_offer = [(number, every[number - 1]) for number, offered in offers.items() if offered is None]
    if none_to_offer and not statements:
        raise typer.BadParameter(not_accepted(none_to_offer), param_hint="--accept")
    settings = common.settings_of(book.path)
    if statements:
        number, effect = declare_all(book, settings, statements)
        print(f"Accepted: {common.counted(len(statements), 'hint')}.", end=" ")
        declared.say_declared(number, effect, logbook)
    if none_to_offer:
        print(f"Not accepted: {not_accepted(none_to_offer)}")
    if rejected:
        number, _effect = declare_all(
            book, settings, [every[hint_number - 1].rejected for hint_number in rejected]
        )
        print(f"Rejected, as number {number}: {common.counted(len(rejected), 'hint')}.", end=" ")
        print(f"To see them again: auditor declare undo {number}{common.logbook_option(logbook)}")


def _numbers(text: str | None, most: int, option: str) -> list[int]:
    """Numbers as people list them: "1,3-5", or "all"."""
    if text is None:
        return []
    if text.strip().lower() == "all":
        return list(range(1, most + 1))
    numbers: dict[int, None] = {}
    for part in text.split(","):
        match = re.fullmatch(r"\s*(\d{1,6})\s*(?:-\s*(\d{1,6})\s*)?", part)
        if match is None:
            raise typer.BadParameter(f"{part.strip()!r} is not a number: write 1,3-5", param_hint=option)
        first, last = int(match[1]), int(match[2] or match[1])
        if not 1 <= first <= last <= most:
            there = f"there are hints 1 to {most}" if most else "there are no hints"
            raise typer.BadParameter(f"{part.strip()}: {there}", param_hint=option)
        numbers.update(dict.fromkeys(range(first, last + 1)))
    return list(numbers)
