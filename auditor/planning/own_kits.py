"""The kits that an outing can choose from: those of the logbook, and those considered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from auditor.analysis.phone_hints import phones
from auditor.frames.declared import Declared
from auditor.frames.kit_names import shown_bodies
from auditor.frames.spellings import as_declared, plain
from auditor.planning.gear import Lens, PlannedKit, kits_to_mount, with_bench
from auditor.records import Recorded
from auditor.store.bench import BenchResult, newest
from auditor.store.declarations import history
from auditor.store.derived import kits_in_use
from auditor.store.encounter_sums import known_kits
from auditor.store.gear import used_kits
from auditor.store.logbook import Logbook


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnKits:
    """What can be mounted."""

    kits: list[PlannedKit]
    """Owned kits first."""
    phones: tuple[str, ...]
    """What bodies are called that are left out: phones by sensor and lens."""


def own_kits(
    logbook: Logbook, *, considered_lenses: Sequence[Lens] = (), considered_factors: Sequence[float] = ()
) -> OwnKits:
    """Every kit whose sensor, lens and converter are known, with what a bench measured of it.

    Parameters
    ----------
    considered_lenses
        Lenses that are not owned.
    considered_factors
        Of converters that are not owned.

    Returns
    -------
    OwnKits
        None of a phone.
    """
    said = [each for each in history(logbook) if each.undone_at is None]
    known = kits_in_use(logbook)
    left_out = phones(known_kits(logbook), said)
    used = used_kits(logbook)
    declared = Declared(said)
    kits = kits_to_mount(
        [kit for kit in used if kit.body_key not in left_out],
        considered_lenses=considered_lenses,
        considered_factors=considered_factors,
        declared=declared,
        known_kits=known,
    )
    called = shown_bodies(known)
    return OwnKits(
        kits=with_bench(kits, newest(logbook), declared),
        phones=tuple(sorted({called[kit.kit_id].short for kit in used if kit.body_key in left_out})),
    )


def benched_kits(logbook: Logbook) -> list[BenchResult]:
    """The newest result of each kit that was on a bench, its lens named as kits name it now.

    Returns
    -------
    list[BenchResult]
        The newest last.
    """
    declared = Declared(history(logbook))
    found: dict[tuple[str | float, ...], BenchResult] = {}
    for result in newest(logbook):
        body = Recorded(
            body_make=result.body_make or None,
            body_model=result.body_model or None,
            body_serial=result.body_serial or None,
        )
        named = as_declared(result.lens_name, declared.lenses_of(body)) or result.lens_name
        kit = (result.body_make, result.body_model, result.body_serial, plain(named), result.converter_factor)
        found.pop(kit, None)  # so that the newest is last, for any kit
        found[kit] = replace(result, lens_name=named)
    return list(found.values())
