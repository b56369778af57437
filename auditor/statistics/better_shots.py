"""Two kits compared by the better shots of each: what they resolve once focus errors are left out.

The best of many shots is better than the best of few by chance alone, so both kits give the same number: of
the longer series many draws of that size are taken. How far two means of better shots lie apart is counted
in the spread among the better shots themselves, which a few missed shots do not touch. How large that ratio
gets by chance is simulated once for each number of shots, from a normal spread: a Student's t for the upper
part of a sample (D).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

BETTER_SHARE = 0.6
"""Of a kit's shots, the better ones that count: 3 of 5. Fewer spread more, more would hold the misses."""
FEWEST_SHOTS = 4
DRAWS = 200
SIMULATED = 100_000


@dataclass(frozen=True, slots=True)
class BetterShots:
    """How much more one kit resolves than another, as a share: 0.1 is a tenth more."""

    gain: float
    low: float
    high: float
    """95 % interval."""
    shots: int
    """Of each kit that were compared; the better of these count."""
    draw_spread: float | None = None
    """Standard deviation of the gain from draw to draw, where one kit had more shots; None where equal."""


def compare_better_shots(resolved: ArrayLike, bare: ArrayLike, *, seed: int = 20260418) -> BetterShots:
    """Compare what two kits resolve.

    Parameters
    ----------
    resolved, bare
        One figure a shot (higher is finer, above 0), shape (shots,), in one unit on the subject.
    seed
        Of the resampling: the same shots give the same interval.

    Returns
    -------
    BetterShots
        How much finer the first kit's better shots are, with an interval.

    Raises
    ------
    ValueError
        for fewer than FEWEST_SHOTS of either, or a figure that is not above 0.
    """
    logs = [np.log(_checked(name, values)) for name, values in (("resolved", resolved), ("bare", bare))]
    shots = min(len(values) for values in logs)
    random = np.random.default_rng(seed)
    means, variances, spreads = np.array([_drawn_down(values, shots, random) for values in logs]).T
    gain = float(means[0] - means[1])
    reach = _critical(shots) * float(np.sqrt(variances.mean()))
    equal = len(logs[0]) == len(logs[1])
    return BetterShots(
        gain=float(np.expm1(gain)),
        low=float(np.expm1(gain - reach)),
        high=float(np.expm1(gain + reach)),
        shots=shots,
        draw_spread=None if equal else float(np.hypot(*spreads)),
    )


def better(values: ArrayLike) -> NDArray[np.float64]:
    """The better shots of a kit, the finest first; along the last axis where there are several kits.

    Parameters
    ----------
    values
        One figure a shot (higher is finer), shape (..., shots).

    Returns
    -------
    NDArray[np.float64]
        Shape (..., better shots).
    """
    ordered = -np.sort(-np.asarray(values, dtype=float), axis=-1)
    return np.asarray(ordered[..., : _kept(ordered.shape[-1])])


def _kept(shots: int) -> int:
    return max(2, round(BETTER_SHARE * shots))


def _checked(name: str, values: ArrayLike) -> NDArray[np.float64]:
    array = np.asarray(values, dtype=float)
    if array.ndim != 1 or len(array) < FEWEST_SHOTS:
        raise ValueError(f"{name} must hold at least {FEWEST_SHOTS} shots, not {array.size}")
    if not (np.isfinite(array).all() and (array > 0).all()):
        raise ValueError(f"{name} must be above 0, not {array.min()!r}")
    return array


def _drawn_down(
    values: NDArray[np.float64], shots: int, random: np.random.Generator
) -> tuple[float, float, float]:
    """Mean and variance of the better of so many shots, over draws where there are more; their spread."""
    if len(values) == shots:
        draws = values[None, :]
    else:
        draws = np.array([random.permutation(values)[:shots] for _draw in range(DRAWS)])
    kept = better(draws)
    return float(kept.mean()), float(kept.var(axis=1, ddof=1).mean()), float(kept.mean(axis=1).std())


@cache
def _critical(shots: int) -> float:
    """The 95 % point of |difference of means| over the spread among better shots, both kits alike."""
    random = np.random.default_rng(shots)
    kits = better(random.standard_normal((SIMULATED // shots, 2, shots)))
    spread = np.sqrt(kits.var(axis=2, ddof=1).mean(axis=1))
    return float(np.quantile(np.abs(np.diff(kits.mean(axis=2), axis=1)[:, 0]) / spread, 0.95))
