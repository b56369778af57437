"""One spelling for each body and each lens: new firmware, and other programs, write their names otherwise.

Names are taken for one where they differ in capitals, spaces and marks alone: "FERNHILL X1" is
"Fernhill X-1", "600MM F4" is "600mm f/4". Of bodies the serial number must be the same as well.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import lru_cache

from auditor.frames.kit_names import is_named_by_files
from auditor.records import KitIdentity
from auditor.store.declared_facts import LensFacts

_MARKS = re.compile(r"(?<!\d)[\W_]+|[\W_]+(?!\d)")
"""Whatever is neither letter nor digit, but between two digits: there it tells 1.4 from 14."""


class Spellings:
    """How bodies and lenses were spelled first; whatever comes later is spelled as they were.

    Parameters
    ----------
    kits
        Those that are known, in the order in which they came to be.
    """

    def __init__(self, kits: Iterable[KitIdentity]) -> None:
        self._bodies: dict[tuple[str, str], tuple[str | None, str | None]] = {}
        self._lenses: dict[tuple[str, str], str] = {}
        for kit in kits:
            self.of(kit)

    def of(self, kit: KitIdentity) -> KitIdentity:
        """A kit in the spelling of those before it.

        Parameters
        ----------
        kit
            As its frame records it.

        Returns
        -------
        KitIdentity
            As it was, where nothing like it is known.
        """
        make, model, serial, lens = kit.body_make, kit.body_model, kit.body_serial, kit.lens_name
        if model and serial and not is_named_by_files(serial):
            make, model = self._bodies.setdefault((plain(model), serial), (make, model))
        if lens and plain(lens):
            lens = self._lenses.setdefault((plain(make or ""), plain(lens)), lens)
        if (make, model, lens) == (kit.body_make, kit.body_model, kit.lens_name):
            return kit
        return replace(kit, body_make=make, body_model=model, lens_name=lens)


def as_declared(lens_name: str | None, declared: Sequence[LensFacts]) -> str | None:
    """What a lens is called whose names were declared to be of one lens.

    Parameters
    ----------
    lens_name
        As a frame's files call it.
    declared
        What was said of the lenses of its body.

    Returns
    -------
    str or None
        The same name where nothing was said of it.
    """
    names = {plain(facts.lens): facts.name for facts in reversed(declared)}
    for _renamed in declared:  # a name may have been given up twice
        lens_name = names.get(plain(lens_name or ""), lens_name)
    return lens_name


def names_of_lens(lens_name: str, declared: Sequence[LensFacts]) -> frozenset[str]:
    """Every name of a lens, plain: what is said of it under one of them is said of it under all.

    Parameters
    ----------
    lens_name
        Any of them.
    declared
        What was said of lenses, of any body: a lens has its names wherever it is mounted.

    Returns
    -------
    frozenset[str]
        The name alone where nothing was said of it.
    """
    names = {plain(lens_name)}
    for _renamed in declared:  # a name may have been given up twice
        for facts in declared:
            both = {plain(facts.lens), plain(facts.name)}
            if both & names:
                names |= both
    return frozenset(names)


@lru_cache(maxsize=1000)  # every frame asks, and a logbook has few names
def plain(name: str) -> str:
    """A name without capitals, spaces and marks.

    >>> plain("Fernhill FL 180-400mm f/5.6")
    'fernhillfl180-400mmf5.6'

    Parameters
    ----------
    name
        Of a body or a lens.

    Returns
    -------
    str
        Empty for a name of marks alone.
    """
    return _MARKS.sub("", name).casefold()
