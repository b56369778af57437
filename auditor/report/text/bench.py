"""A bench in words: a row a kit, the answer of each converter, and what is wrong with shots."""

from __future__ import annotations

import textwrap
from collections import Counter

from auditor.focus.edge_finding import EDGE_WARNINGS
from auditor.planning.bench import Bench, BenchComparison, BenchWord, KitBench
from auditor.report.text.values import plain

WORDS = {
    BenchWord.RESOLVES_MORE: "shows more of the subject than a crop of the bare frame",
    BenchWord.RESOLVES_LESS: "shows less of the subject than a crop of the bare frame",
    BenchWord.NO_DIFFERENCE: "shows no difference to a crop beyond the spread from shot to shot",
    BenchWord.TOO_FEW_SHOTS: "has too few shots to compare: take at least four with it and four without",
}
ALIKE = (
    "Shots came out of different kinds of files (JPEG, raw preview, developed raw), which differ in "
    "sharpening: compare shots of one kind only."
)
NOTE = (
    "Half contrast (MTF50) across the edges; cycles per milliradian compare kits on the subject. The better "
    "three of five shots count, so that focus errors drop out."
)


def kit_row(kit: KitBench) -> list[str]:
    """Cells of a kit's row."""
    spread = "one shot" if kit.repeatability is None else f"{100 * kit.repeatability:.1f} %"
    best = max(kit.shots, key=lambda shot: shot.mtf50)
    return [
        plain(kit.kit.name),
        str(len(kit.shots)),
        f"{best.mtf50:.3f}",
        f"{best.line_pairs_per_mm:.1f}",
        f"{kit.cycles_per_mrad:.2f}",
        spread,
    ]


HEADS = ["Kit", "Shots", "c/px", "lp/mm", "c/mrad", "Spread"]


def comparison(row: BenchComparison) -> str:
    """The answer of one converter."""
    told = f"{plain(row.kit.name)} {WORDS[row.word]}"
    if row.gain is not None:
        told += f": {_percent(row.gain.gain)} ({_percent(row.gain.low)} to {_percent(row.gain.high)}), "
        told += f"{row.gain.shots} shots of each"
    return told + "."


def _percent(share: float) -> str:
    percent = round(100 * share)
    return "0 %" if percent == 0 else f"{percent:+d} %"


def warnings(bench: Bench) -> list[str]:
    """What is wrong with shots, and how many have it."""
    shots = [shot for kit in bench.kits for shot in kit.shots]
    counts = Counter(word for shot in shots for word in shot.warnings)
    told = [
        f"{number} of {len(shots)} shots: {EDGE_WARNINGS[word]}." for word, number in sorted(counts.items())
    ]
    return told if bench.developed_alike else [*told, ALIKE]


def bench_text(bench: Bench, width: int) -> str:
    """The bench for a terminal."""
    failures = [f"{plain(path)}: {plain(reason)}." for path, reason in bench.failures]
    if not bench.kits:  # no table, where nothing could be measured
        return "\n".join(textwrap.fill(text, width) for text in warnings(bench) + failures) + "\n"
    rows = [HEADS] + [kit_row(kit) for kit in bench.kits]
    sizes = [max(len(row[column]) for row in rows) for column in range(len(HEADS))]
    sizes[0] = min(sizes[0], max(20, width - sum(sizes[1:]) - len(sizes)))
    lines = []
    for row in rows:
        name = row[0] if len(row[0]) <= sizes[0] else "…" + row[0][1 - sizes[0] :]
        cells = [cell.rjust(size) for cell, size in zip(row[1:], sizes[1:], strict=True)]
        lines.append(" ".join([name.ljust(sizes[0]), *cells]))
    told = [comparison(row) for row in bench.comparisons] + warnings(bench)
    told += [*failures, NOTE]
    return "\n".join(lines + [""] + [textwrap.fill(text, width) for text in told]) + "\n"
