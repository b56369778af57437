"""Lenses as they are typed: by any of their names, whatever files and kits call them now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from auditor.errors import LogbookError
from auditor.frames.declared import Declared
from auditor.frames.spellings import as_declared, plain
from auditor.records import KnownKit, Recorded
from auditor.store import declarations, derived
from auditor.store.declared_facts import LensFacts
from auditor.store.logbook import Logbook


def lens_named(logbook: Logbook, name_or_part: str) -> str:
    """The whole name of a lens of the logbook, from that name or a part of it.

    Parameters
    ----------
    name_or_part
        A whole name, or a part that only one lens has.

    Returns
    -------
    str
        As the logbook has it; of a lens with several names, as kits call it, unless another was meant.

    Raises
    ------
    LogbookError
        where none has it, or several have, naming those that there are.
    """
    declared = Declared(declarations.history(logbook))
    names = sorted({kit.lens_name for kit in derived.kits_in_use(logbook) if kit.lens_name})
    used = {declared.names_of_lens(name) for name in names}
    others = {name for facts in declared.lenses() for name in (facts.lens, facts.name)} - set(names)
    names += sorted(name for name in others if declared.names_of_lens(name) in used)
    letters = "".join(name_or_part.lower().split())
    meant = [name for name in names if letters in "".join(name.lower().split())]
    whole = [name for name in names if name.lower() == name_or_part.strip().lower()]
    of_one_lens = len({declared.names_of_lens(name) for name in whole or meant}) == 1
    if not of_one_lens or not letters:
        there = "; ".join(meant or names) or "none"
        count = f"{len(meant)} lenses of the logbook are" if meant else "No lens of the logbook is"
        raise LogbookError(f"{count} named {name_or_part!r}. It has: {there}.")
    return (whole or meant)[0]


def under_other_names(logbook: Logbook, kits: Sequence[KnownKit]) -> dict[KnownKit, int]:
    """Kits as they would be called by the other names of their lenses, each with the number of its kit.

    Parameters
    ----------
    kits
        All of the logbook.

    Returns
    -------
    dict[KnownKit, int]
        Empty where no lens was declared to have two names. Each has a number below 0, which no kit has.
    """
    declared = Declared(declarations.history(logbook))
    found: dict[KnownKit, int] = {}
    for kit in kits:
        for name in _other_names(kit, declared):
            found[replace(kit, kit_id=-1 - len(found), lens_name=name)] = kit.kit_id
    return found


def _other_names(kit: KnownKit, declared: Declared) -> list[str]:
    """What files of its body call its lens besides the name that the kit has."""
    body = Recorded(body_make=kit.body_make, body_model=kit.body_model, body_serial=kit.body_serial)
    of_body: list[LensFacts] = declared.lenses_of(body)
    return [
        facts.lens
        for facts in of_body
        if plain(as_declared(facts.lens, of_body) or "") == plain(kit.lens_name or "")
    ]
