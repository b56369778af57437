"""The kits that an outing can choose from: those of the logbook, and those considered."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.frames.declared import Declared
from auditor.planning.gear import Lens, PlannedKit, kits_to_mount, with_bench
from auditor.store.bench import newest
from auditor.store.declarations import history
from auditor.store.derived import kits_in_use
from auditor.store.gear import used_kits
from auditor.store.logbook import Logbook


def own_kits(
    logbook: Logbook, *, considered_lenses: Sequence[Lens] = (), considered_factors: Sequence[float] = ()
) -> list[PlannedKit]:
    """Every kit whose sensor, lens and converter are known, with what a bench measured of it.

    Parameters
    ----------
    considered_lenses
        Lenses that are not owned.
    considered_factors
        Of converters that are not owned.

    Returns
    -------
    list[PlannedKit]
        Owned kits first.
    """
    kits = kits_to_mount(
        used_kits(logbook),
        considered_lenses=considered_lenses,
        considered_factors=considered_factors,
        declared=Declared(history(logbook)),
        known_kits=kits_in_use(logbook),
    )
    return with_bench(kits, newest(logbook))
