"""Score "probably under so many lost" where the record is short: which share of looks tells too small a loss.

    python benchmarks/early_claims.py [--records 120]

Records of both random models, looked at after so many trips; true losses as the usual prior has them, losses
of converters that mostly cost, and 20 of 100. "Usual alone" is held against the usual prior and no other.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.statistics.hit_model import fit  # noqa: E402
from auditor.statistics.likely_loss import DOUBTING_SPREAD, Prior, claims, likely  # noqa: E402
from benchmarks.answers import Model, arms_of, of_number  # noqa: E402

SEED = 99
LOSSES = {"as usual": (0.0, 0.15), "mostly cost": (0.15, 0.08), "20 of 100": (0.2, 0.0)}
"""Mean and spread of the true losses."""
TRIPS = {
    1: "1 or 2 trips",
    2: "1 or 2 trips",
    3: "3 to 6",
    4: "3 to 6",
    6: "3 to 6",
    12: "12 or 24",
    24: "12 or 24",
}
RULES = ("usual alone", "as told")

Looks = list[tuple[str, str, bool, bool]]
"""Rule, trips, whether anything is claimed, whether a claim tells too small a loss."""


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--records", type=int, default=120)
    records = arguments.parse_args().records
    models: tuple[Model, ...] = ("first", "second")
    with ProcessPoolExecutor(2) as pool:
        for losses in LOSSES:
            parts = [
                looks
                for model in models
                for looks in pool.map(partial(looked_at, losses=losses, model=model), range(records))
            ]
            report(losses, [look for looks in parts for look in looks])


def looked_at(number: int, losses: str, model: Model) -> Looks:
    loss = float(np.clip(np.random.default_rng([SEED, number]).normal(*LOSSES[losses]), -0.25, 0.5).round(2))
    record = of_number(number, loss, model)
    looks: Looks = []
    for trips, name in TRIPS.items():
        fitted = fit(arms_of(record.until(trips)))
        if fitted is None:
            continue
        usual = likely(fitted)
        for rule, doubting in zip(RULES, (usual, likely(fitted, Prior(spread=DOUBTING_SPREAD))), strict=True):
            told = claims(usual, doubting)
            looks.append((rule, name, bool(told), any(not one.more and loss > one.loss for one in told)))
    return looks


def report(losses: str, looks: Looks) -> None:
    shares = defaultdict(list)
    for rule, name, claimed, wrong in looks:
        shares[name, rule].append((claimed, wrong))
    print(f"losses {losses}")
    for (name, rule), of_looks in sorted(shares.items()):
        claimed, wrong = np.mean(of_looks, axis=0)
        print(f"  {name:13}{rule:12} claims {claimed:.3f}, too small a loss {wrong:.3f}, of {len(of_looks)}")


if __name__ == "__main__":
    main()
