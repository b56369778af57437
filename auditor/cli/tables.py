"""kits and frames: tables in the terminal."""

from __future__ import annotations

import sys
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.cli import common, selection

if TYPE_CHECKING:
    from auditor.cli.selection import Chosen
    from auditor.store.logbook import Logbook

ByOption = Annotated[
    str | None,
    typer.Option(
        "--by",
        metavar="WHAT",
        help="Break rates down by light, shutter, keyword, area, drive, hour, trip, body, lens or converter.",
    ),
]
CsvOption = Annotated[bool, typer.Option("--csv", help="Print CSV instead of text.")]


@selection.with_selection
def kits(
    asked: selection.Asked,
    advice_from: common.AdviceFromOption = common.AdviceFrom.RECORD,
    by: ByOption = None,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
) -> None:
    """Hit rate and light cost of each kit, and what to mount next time."""
    asked.refuse_outcomes()
    with common.reading(logbook) as book:
        chosen = asked.choose(book)
        if by is not None:
            _print_breakdown(book, by, chosen, as_json, logbook)
        else:
            _print_kits(book, chosen, as_json, advice_from, logbook)


def _print_kits(
    book: Logbook, chosen: Chosen, as_json: bool, advice_from: common.AdviceFrom, logbook: Path | None
) -> None:
    from auditor.analysis.hints import hints
    from auditor.report.answer_lines import answer_lines, hint_lines, workings_lines
    from auditor.report.short_names import with_short_names
    from auditor.report.terminal import full_names_text, kit_table_text
    from auditor.report.text.advice import paragraph
    from auditor.report.text.measuring import not_measured_yet

    findings = selection.chosen_findings(book, chosen, advice_from.value)
    if as_json:
        names = chosen.kit_names
        common.print_json(
            {
                "trip": chosen.trip and chosen.trip.name,
                "selected": chosen.in_words,
                "measuring": asdict(findings.measuring),
                "kits": [asdict(row) | {"kit_short_name": names[row.kit_id]} for row in findings.table],
                "advice": [
                    {"kit_id": kit.kit_id, "kit_name": kit.kit_name, "paragraph": paragraph(kit)}
                    for kit in findings.kits
                ],
                "alternatives": [asdict(row) for row in findings.alternatives],
            }
        )
        return
    shown = with_short_names(findings, chosen.kit_names)
    option = common.logbook_option(logbook)
    print(_heading(book, chosen))
    if waiting := not_measured_yet(findings.measuring, option):
        print(_wrapped(waiting))
    if lines := answer_lines(shown, width=common.width()):
        print(lines)
    print(kit_table_text(shown.table, width=common.width()))
    asked = [] if chosen.limits else hints(book, chosen.trip_id)
    if asked:
        print(hint_lines(asked, chosen.trip_id, width=common.width(), option=option))
    if _asks_for_kits(chosen):
        print(workings_lines(shown, width=common.width()))
        full = {chosen.kit_names[row.kit_id]: row.kit_name for row in findings.table}
        print(full_names_text(full, width=common.width()), end="")
    elif any(kit.kit.converted for kit in shown.kits):
        number = next(kit.kit_id for kit in shown.kits if kit.kit.converted)
        print(_wrapped(f"How one was worked out: auditor kits --kit {number}{option}"), end="")


def _asks_for_kits(chosen: Chosen) -> bool:
    """Whether kits were named: then how the answer on each was worked out is shown too."""
    return bool(chosen.selection.kit_ids) or chosen.selection.converter_factor is not None


def _heading(book: Logbook, chosen: Chosen) -> str:
    from auditor.report.text.values import capital, trip_named
    from auditor.store.counts import counts

    trip = chosen.trip
    name = common.counted(counts(book)["trips"], "trip") if trip is None else capital(trip_named(trip.name))
    if chosen.limits:
        name += f"; {chosen.limits}"
    elif trip is not None:
        name += f", {common.counted(trip.frames, 'frame')}"
    if trip is None:
        name += ". Firm answers allow for looking again after every trip; "
        name += "the 95 % intervals are for a single look."
    return _wrapped(common.printable(name))


def _print_breakdown(book: Logbook, by: str, chosen: Chosen, as_json: bool, logbook: Path | None) -> None:
    from auditor.analysis.breakdowns import BANDS, breakdown
    from auditor.analysis.criterion import too_fine
    from auditor.analysis.measuring import measuring
    from auditor.report.terminal import breakdown_text
    from auditor.report.text.measuring import not_measured_yet
    from auditor.store.encounter_sums import known_kits

    by = selection.known_word(by, BANDS, "--by", "breakdown")
    settings = common.settings_of(book.path)
    without = too_fine(known_kits(book), settings.crop)
    with selection.narrowed(book, chosen, kits=True):
        rows = breakdown(book, by, chosen.trip_id, without=without, settings=settings)
        measured = measuring(book, chosen.trip_id)
    if as_json:
        common.print_json(
            {
                "trip": chosen.trip and chosen.trip.name,
                "selected": chosen.in_words,
                "measuring": asdict(measured),
                "by": by,
                "descriptive": True,
                "rates": [asdict(row) for row in rows],
            }
        )
        return
    names = {full: chosen.kit_names[kit_id] for kit_id, full in selection.full_names(book).items()}
    print(_heading(book, chosen))
    if waiting := not_measured_yet(measured, common.logbook_option(logbook)):
        print(_wrapped(waiting))
    shown = [row if row.kit_name is None else replace(row, kit_name=names[row.kit_name]) for row in rows]
    print(breakdown_text(shown, by, BANDS[by], width=common.width()))


def _wrapped(text: str) -> str:
    return common.filled(text, common.width()) + "\n"


@selection.with_selection
def frames(
    asked: selection.Asked,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """The frames, one per line: when, where, kit, scene, shutter, blur, verdict and flags."""
    with common.reading(logbook) as book:
        from auditor.store.frame_facts import FrameFacts, FrameLine, document_of
        from auditor.store.selection import (
            converters_used,
            count_selected,
            each_selected,
            selected_paths,
            selected_table,
        )

        chosen = asked.choose(book)
        if as_csv:
            from auditor.report.tables import csv_lines

            sys.stdout.writelines(csv_lines(selected_table(book, chosen.selection)))
            return
        if as_json:
            short = chosen.kit_names
            common.print_json(
                {**document_of(frame), "kit_short_name": short[frame.kit_id]}
                for frame in each_selected(FrameFacts, book, chosen.selection)
            )
            return
        from auditor.analysis.measuring import measuring
        from auditor.report.frame_lines import frame_lines, longest_name
        from auditor.report.text.measuring import not_measured_yet
        from auditor.report.text.outcomes import AS_FRAMED
        from auditor.store import scans

        count = count_selected(book, chosen.selection)
        if not count:
            print(f"No frames match: {common.printable(chosen.in_words)}.")
            return
        longest = longest_name(selected_paths(book, chosen.selection))
        folders, width = scans.folders(book), common.width()
        shown = each_selected(FrameLine, book, chosen.selection)
        lines = frame_lines(shown, chosen.kit_names, folders, longest=longest, width=width)
        sys.stdout.writelines(f"{line}\n" for line in lines)
        print(f"{common.counted(count, 'frame')}: {common.printable(chosen.in_words)}")
        if chosen.selection.verdicts and converters_used(book):
            print(common.filled(AS_FRAMED, common.width()))
        waiting = not_measured_yet(measuring(book, chosen.trip_id), common.logbook_option(logbook))
        if waiting:
            print(common.wrapped(waiting))


COMMANDS = (kits, frames)
