"""flags: what did not pay, each with its reason."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import PurePath
from typing import TYPE_CHECKING

from auditor.cli import common, selection

if TYPE_CHECKING:
    from auditor.analysis.findings import Findings
    from auditor.cli.selection import Chosen
    from auditor.store.frame_facts import FrameFacts

SHOWN = 20


@selection.with_selection
def flags(
    asked: selection.Asked,
    advice_from: common.AdviceFromOption = common.AdviceFrom.RECORD,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
) -> None:
    """Flagged kits and frames, each with its reason in words and numbers."""
    with common.reading(logbook) as book:
        from auditor.analysis.measuring import measuring
        from auditor.report.terminal import full_names_text
        from auditor.report.text import comparisons, frames
        from auditor.report.text.measuring import not_measured_yet
        from auditor.report.text.values import capital
        from auditor.store.selection import flagged_frames, selected_flag_counts

        chosen = asked.choose(book)
        measured = measuring(book, chosen.trip_id)
        flagged = flagged_frames(book, chosen.selection, most=None if as_json else SHOWN)
        counts = selected_flag_counts(book, chosen.selection)
        findings = None
        if not chosen.selection.by_outcome:
            findings = selection.chosen_findings(book, chosen, advice_from.value)
    if as_json:
        common.print_json(
            {
                "trip": chosen.trip and chosen.trip.name,
                "selected": chosen.in_words,
                "measuring": asdict(measured),
                "kits": comparisons.kit_flags(findings.kits) if findings else [],
                "comparisons": [asdict(row) for row in findings.compared] if findings else [],
                "changes": [asdict(row) for row in findings.changes] if findings else [],
                "frames": [
                    {
                        "path": frame.path,
                        "kit_name": frame.kit_name,
                        "kit_short_name": chosen.kit_names[frame.kit_id],
                        "flags": {flag: frames.flag_reason(flag, frame) for flag in frame.flags},
                    }
                    for frame in flagged
                ],
            }
        )
        return
    width = common.width()
    print(common.filled(capital(chosen.in_words), width) + "\n")
    if waiting := not_measured_yet(measured, common.logbook_option(logbook)):
        print(common.filled(waiting, width) + "\n")
    if findings is not None:
        _print_kits(findings, chosen, width)
    _print_frames(counts, flagged, chosen, width, common.logbook_option(logbook))
    if findings is not None:
        full = {chosen.kit_names[row.kit_id]: row.kit_name for row in findings.table}
        print("\n" + full_names_text(full, width=width), end="")


def _print_kits(findings: Findings, chosen: Chosen, width: int) -> None:
    from auditor.report.short_names import with_short_names
    from auditor.report.text import comparisons, outcomes, values
    from auditor.words import KitFlag

    findings = with_short_names(findings, chosen.kit_names)
    print("Kits")
    flagged_kits = comparisons.kit_flags(findings.kits)
    for row in flagged_kits:
        name = values.plain(row["kit_name"])
        flag = values.capital(outcomes.KIT_FLAGS[KitFlag(row["flag"])])
        print(_wrapped(f"{flag}: {name}: {row['reason']}", width))
    if not flagged_kits:
        print("  No kit is flagged.")
    print("\nAgainst the bare lens")
    for compared in findings.compared:
        for line in comparisons.comparison(compared):
            print(_wrapped(line, width))
    if not findings.compared:
        used = any(answer.kit.converted for answer in findings.kits)
        alone = "No kit with a converter has frames of the same body and lens bare."
        print(_wrapped(alone if used else "No frame is known to be behind a converter.", width))
    else:
        print(_wrapped(comparisons.DETAIL_NOTE, width))
    if chosen.trip_id is not None:
        print("\nInside the trip")
        for line in comparisons.changes(findings.changes):
            print(_wrapped(line, width))
    print()


def _print_frames(
    counts: dict[str, int], flagged: list[FrameFacts], chosen: Chosen, width: int, option: str
) -> None:
    from auditor.report.text import frames, outcomes, values

    print("Frames")
    for flag, count in counts.items():
        print(_wrapped(f"{outcomes.flag_sentence(flag)}: {count:,} (--flag {flag})", width))
    if not counts:
        print("  No frame is flagged.")
    for frame in flagged:
        reasons = "; ".join(frames.flag_reason(flag, frame) for flag in frame.flags)
        name = values.plain(PurePath(frame.path or "").name)
        print(_wrapped(f"{name}, {values.plain(chosen.kit_names[frame.kit_id])}: {reasons}", width))
    if len(flagged) == SHOWN:
        command = f"auditor frames --flag {next(iter(counts))}{option}"
        print(_wrapped(f"The first {SHOWN}. All of one flag: {command}", width))


def _wrapped(text: str, width: int) -> str:
    return common.filled(text, width, first="  ", then="    ")


COMMANDS = (flags,)
