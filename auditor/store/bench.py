"""What kits resolved on a bench, kept for planning."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields

from auditor.store.clock import now_utc
from auditor.store.logbook import Logbook


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchResult:
    """One kit of one bench."""

    body_make: str
    body_model: str
    body_serial: str
    lens_name: str
    converter_factor: float
    focal_length_mm: float
    """In effect."""
    f_number: float
    """In effect."""
    pixel_pitch_um: float
    shots: int
    cycles_per_mrad: float
    """Half contrast on the subject, of the better shots."""
    repeatability: float | None
    """Standard deviation from shot to shot, as a share; None for one shot."""


_COLUMNS = tuple(field.name for field in fields(BenchResult))


def keep(logbook: Logbook, results: Iterable[BenchResult]) -> None:
    """Add results, inside `writing()`.

    Parameters
    ----------
    results
        Of one bench.
    """
    now = now_utc()
    marks = ", ".join("?" * (len(_COLUMNS) + 1))
    logbook.execute_many(
        f"INSERT INTO bench (measured_at, {', '.join(_COLUMNS)}) VALUES ({marks})",
        [(now, *asdict(result).values()) for result in results],
    )


def newest(logbook: Logbook) -> list[BenchResult]:
    """The newest result of each kit."""
    rows = logbook.query(
        f"SELECT {', '.join(_COLUMNS)}, max(bench_id) FROM bench "
        "GROUP BY body_make, body_model, body_serial, lens_name, converter_factor ORDER BY bench_id"
    )
    return [BenchResult(**{name: row[name] for name in _COLUMNS}) for row in rows]
