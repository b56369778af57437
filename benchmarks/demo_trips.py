"""The invented trip under other seeds: is what was put in found or left open, and nothing else flagged?

    python benchmarks/demo_trips.py [--seeds 20] [--frames 96]

Put in: every converter loses hits (10 points at 1.4x, 24 at 2x, more in low light), and none shows detail
worth 5 % more. Nothing falls inside a trip. So a flag `fell_during_trip`, an outcome `gain` for detail, and
`no fall beyond 10 points` for a 2x are false; verdicts are compared with truth.csv.
"""

from __future__ import annotations

import argparse
import csv
import sys
import tempfile
from collections import Counter
from pathlib import Path

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.analysis.answers import answers  # noqa: E402
from auditor.analysis.changes import changes  # noqa: E402
from auditor.analysis.comparisons import comparisons, evidence  # noqa: E402
from auditor.analysis.kit_table import kit_table  # noqa: E402
from auditor.demo.trip import SEED, write  # noqa: E402
from auditor.derive.rebuild import rebuild  # noqa: E402
from auditor.jobs.measure import measure  # noqa: E402
from auditor.jobs.scan import scan  # noqa: E402
from auditor.settings import Settings  # noqa: E402
from auditor.store.logbook import Logbook, open_logbook  # noqa: E402
from auditor.store.selection import selected_frames  # noqa: E402


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--seeds", type=int, default=20)
    arguments.add_argument("--frames", type=int, default=96)
    chosen = arguments.parse_args()
    outcomes: Counter[str] = Counter()
    verdicts: Counter[tuple[str, str]] = Counter()
    for number in range(chosen.seeds):
        with tempfile.TemporaryDirectory() as folder:
            told, judged = one_trip(Path(folder), SEED + number, chosen.frames)
        outcomes.update(told)
        verdicts.update(judged)
        print(f"seed {SEED + number}: {dict(sorted(told.items()))}", flush=True)
    print(f"\nall {chosen.seeds} trips")
    for word, count in sorted(outcomes.items()):
        print(f"  {word}: {count}")
    told_frames = sum(count for (_true, said), count in verdicts.items() if said != "unclear")
    right = sum(count for (true, said), count in verdicts.items() if true == said)
    total = sum(verdicts.values())
    print(
        f"verdicts: {total} frames, {100 * told_frames / total:.1f} % told, "
        f"{100 * right / told_frames:.1f} % right"
    )
    for (true, said), count in sorted(verdicts.items()):
        print(f"  truly {true}, told {said}: {count}")


def one_trip(folder: Path, seed: int, frames: int) -> tuple[Counter[str], Counter[tuple[str, str]]]:
    """Outcomes of a trip, and its verdicts beside the truth."""
    write(folder / "card", frames=frames, seed=seed)
    settings = Settings()
    book = folder / "book" / "logbook.sqlite"
    scan(book, [folder / "card"], settings, jobs=2)
    with open_logbook(book) as logbook:
        rebuild(logbook, settings)
        measure(logbook, settings, jobs=2)
        rebuild(logbook, settings)
        compared = comparisons(evidence(logbook))
        changed = [row for trip in _trips(logbook) for row in changes(logbook, trip)]
        flags = [flag for answer in answers(kit_table(logbook), compared, changed) for flag in answer.flags]
        rows = selected_frames(logbook)
    told: Counter[str] = Counter()
    for row in compared:
        factor = row.kit_name.rsplit(" ", 1)[1]
        told[f"{factor} hits: {row.hits.outcome}"] += 1
        told[f"{factor} detail: {row.detail.outcome}"] += 1
    told.update(f"flag {flag}" for flag in flags)
    with (folder / "card" / "truth.csv").open(encoding="utf-8") as stream:
        truth = {Path(row["file"]).name: row["verdict"] for row in csv.DictReader(stream)}
    judged = Counter((truth[Path(row.path or "").name], str(row.verdict)) for row in rows)
    return told, judged


def _trips(logbook: Logbook) -> list[int]:
    return [row[0] for row in logbook.query("SELECT trip_id FROM trips")]


if __name__ == "__main__":
    main()
