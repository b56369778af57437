"""What a person reads of a simulated year, through the program: is it so?

    python benchmarks/told.py [--records 10] [--jobs 2]

Each record of a year is written as cameras would have written it (`record_logbook`), with readings of the
pixels that leave 15 of 100 frames near the limit and a camera whose word is wrong at times; `auditor kits`
and `auditor flags` are run on it, and their sentences are read and held against what was drawn. Two random
models; losses of 0, 10 and 20 of 100, and twice as many records with losses drawn as the prior has them. A
row is printed as soon as it is known. Seeded."""

from __future__ import annotations

import argparse
import contextlib
import io
import platform
import re
import sys
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from importlib.metadata import version
from pathlib import Path
from typing import get_args
from unittest import mock

import numpy as np

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.cli.main import main as auditor  # noqa: E402
from auditor.report.text.outcomes import FOCUS  # noqa: E402
from auditor.words import FocusOutcome  # noqa: E402
from benchmarks.answers import HABITS, RECORD_OF, Model, drawn_loss, share  # noqa: E402
from benchmarks.record_logbook import write_logbook  # noqa: E402
from benchmarks.simulated_records import TRIPS_A_YEAR, Photographer  # noqa: E402

SEED = 20261127
LOSSES = (0.0, 0.10, 0.20)
DRAWN = "drawn from N(0, 15 points)"
_FOCUS = re.compile(
    r"x 2, focus: (?P<outcome>[^.]*?), (?P<points>[+-]?\d+) points? "
    r"\(95 % interval (?P<low>[+-]?\d+) to (?P<high>[+-]?\d+)\)"
)
_LIKELY = re.compile(r"\(likely between (\d+)(?: (more|fewer))? and (\d+) (more|fewer) of 100\)")
_CLAIM = re.compile(r"(probably|almost surely) (more|fewer) than (\d+) lost")
_RATES = re.compile(
    r"over the same light and animals (\d+(?:\.\d)?) of 100 in focus with it, (\d+(?:\.\d)?) bare"
)


@dataclass(frozen=True, slots=True)
class Told:
    """What the sentences say of one record."""

    loss: float
    """What is true, as a share."""
    outcome: str
    """Of the words of `FOCUS`."""
    interval: tuple[float, float]
    """Of the loss, in points."""
    likely: tuple[float, float] | None
    """Ends of the 80 % range, in points."""
    claims: tuple[tuple[str, bool, int], ...]
    """The word, whether more or fewer, and than how many of 100."""
    rates: tuple[float, float] | None
    """With it and bare, of 100."""
    heading: str
    """The first sentence of `auditor kits`."""


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--records", type=int, default=10)
    arguments.add_argument("--jobs", type=int, default=2)
    given = arguments.parse_args()
    versions = ", ".join(f"{name} {version(name)}" for name in ("numpy", "scipy"))
    print(f"Python {platform.python_version()}, {versions}, seed {SEED}; {given.records} records a row")
    with ProcessPoolExecutor(given.jobs) as pool:
        for model in get_args(Model):
            print(f"\nrecords of the {model} random model", flush=True)
            for loss in LOSSES:
                call = partial(told, loss=loss, model=model)
                row = list(pool.map(call, range(given.records)))
                print_row(f"loss {100 * loss:2.0f}", row)
            numbers = range(2 * given.records)
            graded = list(pool.map(partial(told, model=model), numbers, map(drawn_loss, numbers)))
            print_row(DRAWN, graded)
            print_claims(graded)


def print_row(name: str, row: list[Told]) -> None:
    """Words told, and how often what is said beside them is so."""
    words = ", ".join(f"{word} {count}" for word, count in Counter(one.outcome for one in row).most_common())
    print(f"  {name}, {len(row)} records: {words}")
    held = share(one.interval[0] <= 100 * one.loss <= one.interval[1] for one in row)
    likely = share(one.likely[0] <= 100 * one.loss <= one.likely[1] for one in row if one.likely)
    gaps = [one.rates[1] - one.rates[0] - 100 * one.loss for one in row if one.rates]
    print(
        f"    95 % interval holds the truth in {held} %, likely range in {likely} %; rates side by side show "
        f"{np.mean(gaps):+.1f} points more than was lost in the mean, half of them within "
        f"{np.median(np.abs(gaps)):.1f}"
    )
    for heading, count in Counter(one.heading for one in row).most_common():
        print(f"    {count} times: {heading}", flush=True)


def print_claims(row: list[Told]) -> None:
    for word in ("probably", "almost surely"):
        true = [
            (100 * one.loss > limit) == more
            for one in row
            for said, more, limit in one.claims
            if said == word
        ]
        print(f"    {word}: true in {share(true)} % of {len(true)}", flush=True)


def told(number: int, loss: float, model: Model) -> Told:
    """Write the record of a year, ask the program, and read what it says."""
    chance = np.random.default_rng([SEED, number, round(1000 * loss) % 997])
    far, bright = HABITS[number % 4]
    who = Photographer(
        loss=loss, far=far, bright=bright, hides=(0.0, 0.25, 0.5)[number % 3],
        distance=("always", "partly")[number // 4 % 2],
    )  # fmt: skip
    drawn = RECORD_OF[model](who, chance, trips=TRIPS_A_YEAR)
    with tempfile.TemporaryDirectory() as folder:
        logbook = Path(folder) / "logbook.sqlite"
        write_logbook(logbook, drawn, chance, auto_iso_said=number % 2 == 0, measured=True)
        flags, kits = (said(command, "--all-trips", "--logbook", logbook) for command in ("flags", "kits"))
    return read(loss, flags, kits)


def said(*arguments: object) -> str:
    """What `auditor` prints, in one line."""
    out = io.StringIO()
    with (
        mock.patch.object(sys, "argv", ["auditor", *map(str, arguments)]),
        contextlib.redirect_stdout(out),
        contextlib.suppress(SystemExit),
    ):
        auditor()
    return " ".join(out.getvalue().split())


def read(loss: float, flags: str, kits: str) -> Told:
    """What the sentences say.

    Raises
    ------
    ValueError
        for sentences that are not as they were when this was written.
    """
    focus = _FOCUS.search(flags)
    if focus is None or focus["outcome"] not in {FOCUS[outcome] for outcome in FocusOutcome}:
        raise ValueError(f"no comparison in: {flags}")
    likely, rates = _LIKELY.search(flags), _RATES.search(flags)
    if rates is None and "in focus with it," in flags:
        raise ValueError(f"no rates side by side in: {flags}")
    heading = re.search(r"single look\. (.*?)[.:] ", kits)
    return Told(
        loss=loss,
        outcome=focus["outcome"],
        interval=(-float(focus["high"]), -float(focus["low"])),
        likely=None if likely is None else _ends(*likely.groups()),
        claims=tuple((word, way == "more", int(limit)) for word, way, limit in _CLAIM.findall(flags)),
        rates=None if rates is None else (float(rates[1]), float(rates[2])),
        heading=re.sub(r"\d+", "N", heading[1]) if heading else "",
    )


def _ends(first: str, first_way: str | None, second: str, way: str) -> tuple[float, float]:
    """Ends of a range of losses: "4 and 15 fewer", "3 more and 9 fewer", "1 and 4 more"."""
    one = float(first) if (first_way or way) == "fewer" else -float(first)
    other = float(second) if way == "fewer" else -float(second)
    return min(one, other), max(one, other)


if __name__ == "__main__":
    main()
