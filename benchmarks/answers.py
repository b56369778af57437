"""How good the answers are over growing records: 24 trips, looked at after each, of invented photographers.

    python benchmarks/answers.py [--records 300] [--jobs 2]

The records are drawn as `simulated_records` and `other_records` say: two random models, neither of them the
fitted one. Seeded."""

from __future__ import annotations

import argparse
import platform
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from importlib.metadata import version
from pathlib import Path
from typing import Any, Literal, NamedTuple, get_args

import numpy as np
from numpy.typing import NDArray

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.statistics.answer import Answer, answers  # noqa: E402
from auditor.statistics.detail import gain  # noqa: E402
from auditor.statistics.firm_words import firm_word, interval, interval_at_every_look  # noqa: E402
from auditor.statistics.hit_model import Arms, fit  # noqa: E402
from auditor.statistics.likely_loss import DOUBTING_SPREAD, Claim, Kit, Prior, claims, likely  # noqa: E402
from auditor.statistics.more_encounters import encounters_to_settle  # noqa: E402
from auditor.statistics.resolved import resolved_gain  # noqa: E402
from benchmarks import other_records, simulated_records  # noqa: E402
from benchmarks.simulated_readings import read  # noqa: E402
from benchmarks.simulated_records import TRIPS_A_YEAR, Photographer, Record, blurs, record  # noqa: E402

SEED = 20261126
TRIPS = 24
YEAR, TWO_YEARS = TRIPS_A_YEAR, 2 * TRIPS_A_YEAR
HABITS = ((1.0, 0.0), (0.0, 0.8), (1.0, 0.6), (0.6, -0.5))
"""Converter on for far birds, in good light, both, and for far birds in poor light."""
LOST = (0.0, 0.05, 0.10, 0.20)
Model = Literal["first", "second"]
RECORD_OF = {"first": simulated_records.record, "second": other_records.record}
PAIRED_OF = {"first": simulated_records.paired, "second": other_records.paired}
DRAWN = "drawn from N(0, 15 points)"
FIRM = ("fell", "no fall beyond 10 points")


class Look(NamedTuple):
    """What is told after so many trips."""

    word: str
    claims: tuple[Claim, ...]
    holds: bool
    holds_every: bool
    gap: float
    with_it: int
    to_settle: int | None
    error: float


Looks = list[Look | None]


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--records", type=int, default=300)
    arguments.add_argument("--jobs", type=int, default=2)
    given = arguments.parse_args()
    versions = ", ".join(f"{name} {version(name)}" for name in ("numpy", "scipy"))
    print(f"Python {platform.python_version()}, {versions}, seed {SEED}; {given.records} records a row\n")
    with ProcessPoolExecutor(given.jobs) as pool:
        for model in get_args(Model):
            print(f"records of the {model} random model\n")
            score(pool, given.records, model)
            pairs(pool, given.records, model)
            weighed(pool, given.records, model)
            print()
        peeked(pool, given.records)
    without_distance(given.records)
    deleted(given.records // 3)
    detail(given.records // 3)
    speed()


def score(pool: ProcessPoolExecutor, records: int, model: Model) -> None:
    """The record looked at after every trip."""
    looks_by_loss = {
        loss: list(pool.map(partial(looked_at, loss=loss, model=model), range(records), chunksize=10))
        for loss in LOST
    }
    drawn = [drawn_loss(number) for number in range(records)]
    looks_of_drawn = list(pool.map(partial(looked_at, model=model), range(records), drawn, chunksize=10))
    print("firm words, % of records: fell in one year, in two, at any of 24 looks; no fall the same")
    for loss, rows in looks_by_loss.items():
        cells = [share(said(rows, word, trips)) for word in FIRM for trips in (YEAR, TWO_YEARS, TRIPS)]
        print(f"  loss {100 * loss:2.0f}: {cells[0]} {cells[1]} {cells[2]}; {cells[3]} {cells[4]} {cells[5]}")
    print("any word after one year (firm, or probably more or less than so much), % of records")
    for loss, rows in looks_by_loss.items():
        at = [one[YEAR - 1] for one in rows]
        costs = share(bool(one and any(c.more for c in one.claims)) for one in at)
        print(
            f"  loss {100 * loss:2.0f}: {share(worded(one) for one in at)}; probably costs something {costs}"
        )
    print("shown gap between kits side by side, no true loss, points: mean after one year, median off")
    gaps = np.array([100 * one[YEAR - 1].gap for one in looks_by_loss[0.0] if one[YEAR - 1]])  # type: ignore[union-attr]
    print(f"  {gaps.mean():+.1f}, {np.median(np.abs(gaps)):.1f}")
    print("intervals that hold the truth, %: after one year, two, four; mean of all looks; at every look")
    for name, rows in (*looks_by_loss.items(), (DRAWN, looks_of_drawn)):
        fixed = [share(one.holds for one in at_trip(rows, trips)) for trips in (YEAR, TWO_YEARS, TRIPS)]
        every = share(all(one.holds_every for one in looks if one) for looks in rows)
        mean = share(one.holds for looks in rows for one in looks if one)
        print(f"  loss {name}: {' '.join(fixed)}; {mean}; {every}")
    errors = [one.error for one in at_trip(looks_by_loss[0.0], YEAR)]
    print(f"  error of the loss after one year, median: {np.median(errors):.3f}")
    graded(looks_of_drawn, drawn)
    settled([row for rows in looks_by_loss.values() for row in rows] + looks_of_drawn)


def looked_at(number: int, loss: float, model: Model = "first") -> Looks:
    """What is told after each trip of one record."""
    drawn = of_number(number, loss, model)
    return [look(arms_of(drawn.until(trips)), loss, settle=trips == YEAR) for trips in range(1, TRIPS + 1)]


def of_number(number: int, loss: float, model: Model, *, by_distance: bool = True) -> Record:
    """A record, with habits that differ from number to number.

    Parameters
    ----------
    by_distance
        Whether distance may be why the converter goes on.
    """
    far, bright = HABITS[number % 4]
    who = Photographer(
        loss=loss,
        far=far if by_distance else 0.0,
        bright=bright,
        hides=(0.0, 0.25, 0.5)[number % 3],
        distance=("always", "partly")[number // 4 % 2],
    )
    chance = np.random.default_rng([SEED, number, round(1000 * loss) % 997])
    return RECORD_OF[model](who, chance)


def arms_of(drawn: Record) -> Arms:
    return Arms(**{name: getattr(drawn, name) for name in Record.__slots__})


def look(arms: Arms, loss: float, *, settle: bool = False) -> Look | None:
    fitted = fit(arms)
    if fitted is None:
        return None
    (low, high), (lowest, highest) = interval(fitted), interval_at_every_look(fitted)
    expected = likely(fitted)
    return Look(
        word=firm_word(fitted),
        claims=claims(expected, likely(fitted, Prior(spread=DOUBTING_SPREAD))),
        holds=low <= loss <= high,
        holds_every=lowest <= loss <= highest,
        gap=fitted.rate - fitted.rate_bare,
        with_it=fitted.encounters,
        to_settle=encounters_to_settle(fitted, expected) if settle else None,
        error=fitted.error,
    )


def drawn_loss(number: int) -> float:
    loss = np.random.default_rng([SEED, number, 5]).normal(0, 0.15)
    return round(float(np.clip(loss, -0.25, 0.5)), 2)


def graded(rows: list[Looks], losses: list[float]) -> None:
    """How often what is said in a graded word is so, where losses are spread as usual."""
    print("graded words that come true, %, of how many; losses drawn from N(0, 15 points)")
    for name, trips in (("after one year", [YEAR]), ("at all looks", list(range(1, TRIPS + 1)))):
        for word, span in (("probably", "80 to 95"), ("almost surely", "95 to 100")):
            true = [
                (loss > one.loss) == one.more
                for looks, loss in zip(rows, losses, strict=True)
                for trip in trips
                for one in said_at(looks, trip)
                if one.word == word
            ]
            print(f"  {name}, {word} ({span}): {share(true)} of {len(true)}")


def said_at(looks: Looks, trip: int) -> tuple[Claim, ...]:
    at = looks[trip - 1]
    return at.claims if at else ()


def settled(rows: list[Looks]) -> None:
    """The encounters that it took to a firm word, over what was told after one year."""
    ratios, never, by_then = [], 0, []
    for looks in rows:
        at = looks[YEAR - 1]
        if at is None or at.word in FIRM or at.to_settle is None:
            continue
        later = [one.with_it for one in looks[YEAR:] if one and one.word in FIRM]
        last = max(one.with_it for one in looks if one)
        if later or last >= at.with_it + at.to_settle:
            by_then.append(bool(later) and later[0] <= at.with_it + at.to_settle)
        if later:
            ratios.append((later[0] - at.with_it) / at.to_settle)
        else:
            never += 1
            ratios.append(np.inf)
    median = float(np.median(ratios))
    off = float(np.median([max(one, 1 / max(one, 1e-9)) for one in ratios]))
    print(
        f"encounters that it took, over those told after one year: median {median:.2f}, off by x{off:.2f} "
        f"in the median; {len(ratios)} open records, {never} of them open after four years; a firm word by "
        f"then (meant for half): {share(by_then)} % of {len(by_then)}"
    )


def pairs(pool: ProcessPoolExecutor, records: int, model: Model) -> None:
    """An experiment of 12 animals, looked at when it is done."""
    print("12 animals with both kits each, %: fell; probably more than 5 points or surer; no fall")
    for loss in (0.0, 0.10, 0.20):
        found = list(pool.map(partial(pair, loss=loss, model=model), range(records), chunksize=10))
        fell, none = (share(one is not None and one.word == word for one in found) for word in FIRM)
        likely_so = share(one is not None and any(c.more for c in one.claims) for one in found)
        print(f"  loss {100 * loss:2.0f}: {fell}; {likely_so}; {none}")


def pair(number: int, loss: float, model: Model) -> Look | None:
    drawn = PAIRED_OF[model](loss, np.random.default_rng([SEED, number, 12]))
    return look(arms_of(drawn), loss)


def weighed(pool: ProcessPoolExecutor, records: int, model: Model) -> None:
    """Each frame counts by how likely its reading makes it a hit, 12 of 100 of them unclear."""
    print("frames weighed by how likely they are hits, after two years, points: loss told; interval holds it")
    cases: dict[str, dict[str, Any]] = {
        "readings alike": {},
        "drawn together, as without undoing it": {"undone": False},
        "unclearer with it": {"apart": (1.2, 1.8)},
        "40 of 100 hits supposed": {"usual": 0.4},
        "both": {"apart": (1.2, 1.8), "usual": 0.4},
        "clearer with it, 80 of 100 supposed": {"apart": (1.8, 1.2), "usual": 0.8},
        "distance never recorded": {"never": True},
    }
    for name, how in cases.items():
        cells = []
        for loss in (0.0, 0.10, 0.20):
            call = partial(weighed_look, loss=loss, model=model, **how)
            found = [one for one in pool.map(call, range(records), chunksize=10) if one]
            told = np.mean([-one.gap for one in found])
            cells.append(f"{100 * told:.1f} ({share(one.holds for one in found)} %)")
        print(f"  {name}: losses 0, 10, 20: {'; '.join(cells)}")


def weighed_look(number: int, loss: float, model: Model, never: bool = False, **how: Any) -> Look | None:
    # Where distance is never recorded, it must not be why the converter goes on.
    drawn = of_number(number, loss, model, by_distance=not never).until(TWO_YEARS)
    arms = arms_of(read(drawn, np.random.default_rng([SEED, number, 13]), **how))
    return look(replace(arms, distance_log2=None) if never else arms, loss)


def peeked(pool: ProcessPoolExecutor, records: int) -> None:
    """Looked at after every sitting, some hundred times; only ends of trips count as looks."""
    told = list(pool.map(peeked_at, range(records), chunksize=5))
    print(f"looked at after every sitting, no loss: fell at any look {share(told)} %\n")


def peeked_at(number: int) -> bool:
    drawn = of_number(number, 0.0, "first")
    for sitting in np.unique(drawn.sitting):
        found = fit(arms_of(drawn.only(drawn.sitting <= sitting)))
        if found is not None and firm_word(found) == "fell":
            return True
    return False


def without_distance(records: int) -> None:
    """Distance never recorded, converter on for far birds: what is told after two years."""
    print("distance never recorded, %: fell; fewer hits, that farther animals could explain; no fall")
    for loss in (0.0, 0.20):
        found = list(told_once(loss, records, trips=TWO_YEARS, distance="never", far=1.0))
        cells = [share(one.word == word for one in found) for word in ("fell", "fewer hits", FIRM[1])]
        print(f"  loss {100 * loss:2.0f}: {'; '.join(cells)}")


def deleted(records: int) -> None:
    """Misses deleted in camera, after two years."""
    print("misses deleted in camera, %: fell; no fall; weakened")
    for loss, shares in ((0.0, (0.4, 0.4)), (0.0, (0.2, 0.5)), (0.2, (0.5, 0.2)), (0.2, (0.4, 0.4))):
        found = list(told_once(loss, records, trips=TWO_YEARS, deletes=shares))
        cells = [share(one.word == word for one in found) for word in FIRM]
        turned = share(one.deleted is not None and one.deleted.turned for one in found)
        print(
            f"  loss {100 * loss:2.0f}, {shares[0]} with it, {shares[1]} bare: {'; '.join(cells)}; {turned}"
        )


def told_once(loss: float, records: int, *, trips: int, **habits: Any) -> Iterator[Answer]:
    for number in range(records):
        drawn = record(
            Photographer(loss=loss, **habits), np.random.default_rng([SEED, number, 3]), trips=trips
        )
        (found,) = answers([(Kit(factor=2.0, lens="a"), arms_of(drawn))])
        if found is not None:
            yield found


def detail(records: int) -> None:
    print("detail gained, %, sharp frames gain 10.6: what it resolves, and what was got over all frames")
    for missed in ("by more", "by a jump", "by any amount"):
        for lost in LOST:
            rows = []
            for number in range(records):
                chance = np.random.default_rng([SEED, number, 6])
                kit = blurs(chance, 30, size=1 - 0.106, misses=0.3 + lost, missed=missed)
                bare = blurs(chance, 50, size=1.0, misses=0.3, missed=missed)
                one, other = resolved_gain(kit, bare), gain(kit, bare)
                held = one.low is not None and one.high is not None and one.low <= 0.106 <= one.high
                rows.append((100 * (one.gain or 0), 100 * (other.gain or 0), 100 * held))
            resolved, got, holds = np.mean(rows, axis=0)
            print(
                f"  missed {missed}, hits lost {100 * lost:2.0f}: {resolved:5.1f} (interval holds it "
                f"{holds:.0f} %); {got:5.1f}"
            )


def speed() -> None:
    """A million frames, gathered to encounters before."""
    one = record(Photographer(loss=0.1), np.random.default_rng(SEED), trips=5600)
    arms = arms_of(one)
    began = time.perf_counter()
    answers([(Kit(factor=2.0, lens="a"), arms)])
    print(f"{arms.frames.sum():.0f} frames in {len(arms.frames)} rows: {time.perf_counter() - began:.2f} s")


def at_trip(rows: list[Looks], trips: int) -> list[Look]:
    return [looks[trips - 1] for looks in rows if looks[trips - 1] is not None]  # type: ignore[misc]


def worded(one: Look | None) -> bool:
    return one is not None and (one.word in FIRM or bool(one.claims))


def said(rows: list[Looks], word: str, trips: int) -> NDArray[np.bool_]:
    return np.array([any(one is not None and one.word == word for one in looks[:trips]) for looks in rows])


def share(values: Any) -> str:
    """A share of true ones, in per cent."""
    found = [bool(one) for one in values]
    return f"{100 * sum(found) / len(found):.1f}" if found else "none"


if __name__ == "__main__":
    main()
