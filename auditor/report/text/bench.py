"""A bench in words: a row a kit, the answer of each converter, and what is wrong with shots."""

from __future__ import annotations

import textwrap
from collections import Counter

from auditor.focus.edge_finding import EDGE_WARNINGS
from auditor.planning.bench import Bench, BenchComparison, BenchWord, KitBench
from auditor.planning.bench_shots import CURVE_CYCLES_PER_PX
from auditor.report.text.values import plain

WORDS = {
    BenchWord.RESOLVES_MORE: "shows more of the subject than a crop of the bare frame",
    BenchWord.RESOLVES_LESS: "shows less of the subject than a crop of the bare frame",
    BenchWord.NO_DIFFERENCE: "shows no difference from a crop beyond the spread from shot to shot",
    BenchWord.TOO_FEW_SHOTS: "has too few shots to compare: take at least four with it and four without",
}
ALIKE = (
    "Shots came out of different kinds of files (JPEG, raw preview, developed raw), which differ in "
    "sharpening: compare shots of one kind only."
)
NOTE = (
    "Half contrast (MTF50) across the edges; cycles per milliradian compare kits on the subject. The better "
    "three of five shots count, so that focus errors drop out. Spread: from shot to shot. Shift: how far the "
    "middle shot falls short of the better ones. Below: contrast of the best shot in percent, by c/px."
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
        "-" if kit.focus_shift is None else f"{100 * kit.focus_shift:.1f} %",
    ]


HEADS = ["Kit", "Shots", "c/px", "lp/mm", "c/mrad", "Spread", "Shift"]
CURVE_AT = (0.1, 0.2, 0.3, 0.4, 0.5)
"""Cycles a pixel at which the terminal shows contrast; --json has more of the curve."""
CURVE_HEADS = ["Best shot", "Across", "Down", "10 %", "Angle", "Noise", *(f"{at:g}" for at in CURVE_AT)]


def curve_row(kit: KitBench) -> list[str]:
    """Cells of what the best shot of a kit shows: half contrast each way, a tenth, contrast in percent."""
    best = max(kit.shots, key=lambda shot: shot.mtf50)
    frequencies = (best.across_mtf50, best.down_mtf50, best.mtf10)
    return [
        plain(kit.kit.name),
        *("-" if value is None else f"{value:.3f}" for value in frequencies),
        f"{best.angle_deg:.1f}°",
        f"{100 * best.noise_share:.1f} %",
        *(f"{100 * best.contrast[CURVE_CYCLES_PER_PX.index(at)]:.0f}" for at in CURVE_AT),
    ]


def comparison(row: BenchComparison) -> str:
    """The answer of one converter."""
    sentence = f"{plain(row.kit.name)} {WORDS[row.word]}"
    if row.gain is not None:
        sentence += f": {_percent(row.gain.gain)} ({_percent(row.gain.low)} to {_percent(row.gain.high)}), "
        sentence += f"{row.gain.shots} shots of each"
        if row.gain.draw_spread is not None:
            sentence += (
                f", drawn from the longer series (from draw to draw {100 * row.gain.draw_spread:.1f} %)"
            )
    return sentence + "."


def _percent(share: float) -> str:
    percent = round(100 * share)
    return "0 %" if percent == 0 else f"{percent:+d} %"


def warnings(bench: Bench) -> list[str]:
    """What is wrong with shots, and how many have it."""
    shots = [shot for kit in bench.kits for shot in kit.shots]
    counts = Counter(word for shot in shots for word in shot.warnings)
    sentences = [
        f"{number} of {len(shots)} shots: {EDGE_WARNINGS[word]}." for word, number in sorted(counts.items())
    ]
    return sentences if bench.developed_alike else [*sentences, ALIKE]


def _columns(rows: list[list[str]], width: int) -> list[str]:
    sizes = [max(map(len, column)) for column in zip(*rows, strict=True)]
    sizes[0] = min(sizes[0], max(12, width - sum(sizes[1:]) - len(sizes)))
    lines = []
    for row in rows:
        name = row[0] if len(row[0]) <= sizes[0] else row[0][: sizes[0] - 1] + "…"
        cells = [cell.rjust(size) for cell, size in zip(row[1:], sizes[1:], strict=True)]
        lines.append(" ".join([name.ljust(sizes[0]), *cells]))
    return lines


def bench_text(bench: Bench, width: int) -> str:
    """The bench for a terminal."""
    failures = [f"{plain(path)}: {plain(reason)}." for path, reason in bench.failures]
    if not bench.kits:  # no table, where nothing could be measured
        return "\n".join(textwrap.fill(text, width) for text in warnings(bench) + failures) + "\n"
    lines = _columns([HEADS] + [kit_row(kit) for kit in bench.kits], width)
    lines += ["", *_columns([CURVE_HEADS] + [curve_row(kit) for kit in bench.kits], width)]
    paragraphs = [comparison(row) for row in bench.comparisons] + warnings(bench)
    paragraphs += [*failures, NOTE]
    return "\n".join(lines + [""] + [textwrap.fill(text, width) for text in paragraphs]) + "\n"
