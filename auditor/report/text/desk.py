"""What the desk says in sentences: progress, what came of work, frames and encounters in a few words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from auditor.report.text import outcomes, values
from auditor.report.text.measuring import nothing_measured
from auditor.report.text.scanned import passed_over
from auditor.report.text.values import count
from auditor.store.bench import BenchResult
from auditor.store.encounter_frames import EncounterFrame, EncounterLine
from auditor.store.trip_summaries import TripSummary

CLOSED = "The desk has ended. What you chose is kept in the logbook; to open it again: auditor desk"
MINUTE_S = 60


def trip_line(row: TripSummary) -> str:
    """What is known of a trip from its counts."""
    if row.measured == 0 and row.judged == 0:
        return nothing_measured(row)
    outcome = f"{row.hits:,} of {row.judged:,} in focus" if row.judged else "none decided"
    return (
        outcome if row.measured >= row.frames else f"{outcome}; {row.measured:,} of {row.frames:,} measured"
    )


def read_card(
    read: int, measured: int, unreadable: int, not_decoded: int, files_by_kind: Mapping[str, int]
) -> str:
    """What came of reading a card; `files_by_kind` are videos and the like, which were passed over."""
    sentence = f"{count(read, 'file')} read, {count(measured, 'frame')} measured."
    if not read and not measured:
        sentence = "Nothing new on it: every frame is in the logbook already."
    lost = [f"{count(unreadable, 'file')} could not be read"] if unreadable else []
    if not_decoded:
        lost.append(f"{count(not_decoded, 'picture')} could not be decoded")
    if lost:
        sentence += f" {' and '.join(lost)}: the end of a trip's page lists them."
    return f"{sentence} {passed_over(files_by_kind)}." if files_by_kind else sentence


def progress(
    doing: str, things: str, done: int, total: int | None, a_second: float | None, left_s: float | None
) -> str:
    """How far work is, in one line: "Measuring: 120 of 753 frames, 4 a second, 2 minutes left"."""
    parts = [f"{done:,} of {total:,} {things}" if total is not None else f"{done:,} {things}"]
    if a_second is not None:
        parts.append(f"{a_second:,.0f} a second" if a_second >= 1 else f"{1 / a_second:.0f} s each")
    if left_s is not None:
        minutes = left_s / MINUTE_S
        parts.append("under a minute left" if minutes < 1 else f"{count(round(minutes), 'minute')} left")
    return f"{doing}: {', '.join(parts)}"


def encounter_names(lines: Sequence[EncounterLine]) -> list[str]:
    """When each encounter of a trip was: "18 April 2026, 06:12 to 06:20".

    Those of one minute, as where the light changed at once, are told to the second; those of one second, as
    of two bodies in two time zones, by their place on the trip.
    """
    minutes = Counter(_when(line, 16) for line in lines)
    names = [_when(line, 16 if minutes[_when(line, 16)] == 1 else 19) for line in lines]
    alike = Counter(names)
    return [
        name if alike[name] == 1 else f"{name} (encounter {place})" for place, name in enumerate(names, 1)
    ]


def _when(line: EncounterLine, end: int) -> str:
    """Its day, and its times as far as this character of them."""
    first, last = line.first_at[11:end], line.last_at[11:end]
    return f"{values.days(line.first_at, line.first_at)}, {first}" + ("" if first == last else f" to {last}")


def focus(frame: EncounterFrame) -> str:
    """The verdict in words, with the blur: "in focus, blur 0.8 px"."""
    verdict = outcomes.verdict(frame.verdict)
    return verdict if frame.blur_px is None else f"{verdict}, blur {frame.blur_px:.1f} px"


def settings(frame: EncounterFrame) -> str:
    """Shutter, f-number and ISO."""
    return ", ".join(
        (
            values.exposure_time(frame.exposure_time_s),
            values.f_number(frame.f_number),
            f"ISO {values.iso(frame.iso)}",
        )
    )


def why(frame: EncounterFrame) -> str:
    """What decided, what the camera said, and every flag, as one line."""
    missing = {} if frame.why_unclear is None else {"verdict": frame.why_unclear}
    unclear = outcomes.why_unclear(frame.verdict, missing)
    return "; ".join(
        (
            unclear or outcomes.verdict_source(frame.verdict_source),
            outcomes.camera_word(frame.camera_word),
            *(outcomes.flag_label(flag) for flag in outcomes.beside_why(frame.flags, unclear)),
        )
    )


_MADE = {"hard_link": "hard link", "symbolic_link": "symbolic link", "sidecar": "sidecar"}
DONE = {
    "copy": "copied and verified",
    "hard_link": "hard-linked",
    "symbolic_link": "linked",
    "sidecar": "written",
}


def made(way: str, files: int) -> str:
    """What handing over makes: "1 copy", "12 hard links"."""
    if way == "copy":
        return f"{files:,} {'copy' if files == 1 else 'copies'}"
    return count(files, _MADE[way])


def plan(way: str, frames: int, new: int, size_bytes: int, there_already: int) -> str:
    """What would be made: "12 frames: 24 copies would be made, 310.2 MB; 3 files are there already"."""
    size = f"{size_bytes / 1e6:,.1f} MB" if size_bytes >= 1e5 else f"{size_bytes / 1e3:.0f} kB"
    room = f", {size}" if way in ("copy", "sidecar") and new and size_bytes else ""
    sentence = f"{count(frames, 'frame')}: {made(way, new)} would be made{room}"
    return f"{sentence}; {count(there_already, 'file')} there already." if there_already else f"{sentence}."


def handed_over(way: str, files_made: int, there_already: int, failed: int) -> str:
    """What came of handing over."""
    sentences = f"{count(files_made, 'file')} {DONE[way]}, {there_already:,} there already."
    if failed:
        sentences += f" Not handed over: {failed:,}; the originals are as they were."
    return sentences


def receipt(what: str, files: int, folder: str, started_at: str, *, state: str) -> str:
    """A receipt in one line."""
    return f"{values.moment(started_at)}: {made(what, files)}{state}, {folder}"


def taken_back(removed: int, restored: int, gone: int, folders: int) -> str:
    """What came of taking back."""
    parts = [f"{count(removed, 'file')} removed"]
    if restored:
        parts.append(f"{count(restored, 'sidecar')} as before")
    if gone:
        parts.append(f"{gone:,} gone already")
    if folders:
        parts.append(f"{count(folders, 'empty folder')} removed")
    return f"{', '.join(parts)}."


def bench(result: BenchResult) -> str:
    """What a kit resolved on a bench, in one line."""
    converter = "" if result.converter_factor == 1 else f" x {result.converter_factor:g}"
    spread = (
        "" if result.repeatability is None else f", from shot to shot ±{100 * result.repeatability:.0f} %"
    )
    return (
        f"{result.body_model}, {result.lens_name}{converter}, {values.f_number(result.f_number)}: "
        f"{result.cycles_per_mrad:.1f} cycles/mrad on the subject ({count(result.shots, 'shot')}{spread})"
    )
