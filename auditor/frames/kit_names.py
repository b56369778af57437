"""Kits by key, by full name and by short name."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from typing import NamedTuple

from auditor.frames.kit import Kit
from auditor.frames.lens import from_name
from auditor.records import KitIdentity, KnownKit, Recorded
from auditor.serials import BY_FILE_NAMES, NO_SERIAL

Named = tuple[str | None, str | None]
"""A maker and a model, or a maker and a lens."""
Thing = tuple[str, str | None, str | None]
UNKNOWN_BODY = "unknown body"
UNKNOWN_LENS = "unknown lens"
_END_OF_SERIAL = 4
"""Letters of a serial that are shown: enough to tell a photographer's bodies apart."""


class ShownBody(NamedTuple):
    """What the names of kits call a body."""

    short: str
    full: str


def named_by_files(prefix: str) -> str:
    """What tells a body from others of its model that record no serial number either: its file names.

    Parameters
    ----------
    prefix
        The letters in front of its file numbers.

    Returns
    -------
    str
        In the place of a serial number.
    """
    return BY_FILE_NAMES + prefix


def is_named_by_files(serial: str | None) -> bool:
    """Whether file names stand where the serial number would.

    Parameters
    ----------
    serial
        Of a kit.

    Returns
    -------
    bool
        False where there is neither.
    """
    return serial is not None and serial.startswith(BY_FILE_NAMES)


def kit_key(kit: KitIdentity) -> str:
    """What makes two frames' kits the same: body by serial where recorded, lens, converter.

    Parameters
    ----------
    kit
        In the spelling that its body and lens have in the logbook.

    Returns
    -------
    str
        A text that is equal for frames of one kit.
    """
    factor = "?" if kit.converter_factor is None else f"{kit.converter_factor:g}"
    body = (kit.body_make, kit.body_model, kit.body_serial)
    return "|".join((*(part or "" for part in body), kit.lens_name or "", factor))


def identity(recorded: Recorded, kit: Kit) -> KitIdentity:
    """The kit that a frame was taken with, as far as that frame tells.

    Parameters
    ----------
    recorded
        Merged from the frame's files.
    kit
        As inferred of it.

    Returns
    -------
    KitIdentity
        None for each part that is not told.
    """
    return KitIdentity(
        body_make=recorded.body_make,
        body_model=recorded.body_model,
        body_serial=recorded.body_serial,
        lens_name=kit.lens.name,
        converter_factor=kit.converter_factor,
    )


def names_of(kits: Iterable[KnownKit]) -> dict[int, str]:
    """Full names by kit id: "body + lens + 1.4x", with the end of the serial where two bodies are alike.

    Parameters
    ----------
    kits
        All that need to be told apart.

    Returns
    -------
    dict[int, str]
        Name by kit id.
    """
    all_kits = list(kits)
    bodies = shown_bodies(all_kits)
    return {
        kit.kit_id: " + ".join(
            part for part in (bodies[kit.kit_id].full, kit.lens_name or UNKNOWN_LENS, _converter(kit)) if part
        )
        for kit in all_kits
    }


def shown_bodies(kits: Iterable[KnownKit]) -> dict[int, ShownBody]:
    """What short and full names of kits call the body.

    Parameters
    ----------
    kits
        All of the logbook, so that a name is the same whatever is selected.

    Returns
    -------
    dict[int, ShownBody]
        By kit_id.
    """
    all_kits = list(kits)
    serial = _serials(all_kits)
    short = _distinct(
        {("", kit.body_make, kit.body_model) for kit in all_kits},
        [
            without_maker,
            lambda make, model: " ".join(filter(None, (make, without_maker(make, model)))),
        ],
    )
    return {
        kit.kit_id: ShownBody(
            short[kit.body_make, kit.body_model] + serial(kit), (kit.body_model or UNKNOWN_BODY) + serial(kit)
        )
        for kit in all_kits
    }


def short_names(kits: Iterable[KnownKit]) -> dict[int, str]:
    """Short names by kit id, such as "F2 500 mm x 2": what people call a kit, and what they select it by.

    Body: the model without its maker's name. Lens: its focal length. More is added only where two would
    be called alike: the maker or the end of the serial of a body; the widest f-number of a lens, and
    where that is the same too, the lens's whole name.

    Parameters
    ----------
    kits
        All of the logbook, so that a name is the same whatever is selected.

    Returns
    -------
    A name for each kit_id; no two are the same.
    """
    all_kits = list(kits)
    bodies = shown_bodies(all_kits)
    # Lenses of one maker's bodies can be swapped between them: among those a name must tell them apart.
    lenses = _distinct(
        {(kit.body_make or "", kit.body_make, kit.lens_name) for kit in all_kits},
        [
            lambda _make, name: _focal_length(name),
            lambda _make, name: _focal_length_and_f_number(name),
            lambda _make, name: name or UNKNOWN_LENS,
        ],
    )
    names = {}
    for kit in all_kits:
        factor = kit.converter_factor
        behind = " x ?" if factor is None else f" x {factor:g}" if factor > 1 else ""
        names[kit.kit_id] = f"{bodies[kit.kit_id].short} {lenses[kit.body_make, kit.lens_name]}{behind}"
    # Serials with the same end, and makers that write one name in two ways, are left.
    count = Counter(name.casefold() for name in names.values())
    return {
        kit_id: name if count[name.casefold()] == 1 else f"{name} (kit {kit_id})"
        for kit_id, name in names.items()
    }


def _serials(kits: list[KnownKit]) -> Callable[[KitIdentity], str]:
    """What to put behind a body: the end of its serial where several bodies have the same model."""
    serials: dict[Named, set[str]] = defaultdict(set)
    for kit in kits:
        serials[kit.body_make, kit.body_model].add(kit.body_serial or "")

    def of(kit: KitIdentity) -> str:
        if len(serials[kit.body_make, kit.body_model]) < 2:
            return ""
        if is_named_by_files(kit.body_serial):
            return f" ({kit.body_serial})"
        return f" #{kit.body_serial[-_END_OF_SERIAL:]}" if kit.body_serial else NO_SERIAL

    return of


def _distinct(things: set[Thing], ways: list[Callable[[str | None, str | None], str]]) -> dict[Named, str]:
    """Each thing in the shortest way of naming it that no other of its group shares; the last way if none.

    A thing is its group, its maker and its name.
    """
    names: dict[Named, str] = {}
    waiting = set(things)
    for way in ways:
        alike: dict[tuple[str, str], list[Thing]] = defaultdict(list)
        for thing in waiting:
            group, maker, name = thing
            alike[group, way(maker, name).casefold()].append(thing)
        for same in alike.values():
            if len(same) == 1 or way is ways[-1]:
                names |= {(maker, name): way(maker, name) for _group, maker, name in same}
                waiting -= set(same)
    return names


def without_maker(make: str | None, model: str | None) -> str:
    """The model of a body without its maker's name: "S2" of "Saltmark S2".

    Parameters
    ----------
    make, model
        As recorded.

    Returns
    -------
    str
        "unknown body" where there is no model.
    """
    if not model:
        return UNKNOWN_BODY
    words = model.split()
    maker = (make or "").split()
    # "OM Digital Solutions" made the "OM-1": only a whole word of the maker's name is left out.
    if len(words) > 1 and maker and words[0].casefold() in {word.casefold() for word in maker}:
        return " ".join(words[1:])
    return " ".join(words)


def _focal_length(lens_name: str | None) -> str:
    lens = from_name(lens_name)
    if lens.short_mm is None or lens.long_mm is None:
        return lens_name or UNKNOWN_LENS
    ends = f"{lens.short_mm:g}" if lens.is_prime else f"{lens.short_mm:g}-{lens.long_mm:g}"
    return f"{ends} mm"


def _focal_length_and_f_number(lens_name: str | None) -> str:
    lens = from_name(lens_name)
    if lens.short_mm is None or lens.widest_at_short is None:
        return lens_name or UNKNOWN_LENS
    far = lens.widest_at_long
    ends = f"{lens.widest_at_short:g}" + (f"-{far:g}" if far and far != lens.widest_at_short else "")
    return f"{_focal_length(lens_name)} f/{ends}"


def _converter(kit: KitIdentity) -> str | None:
    factor = kit.converter_factor
    if factor is None:
        return "converter unknown"
    return f"{factor:g}x" if factor > 1 else None
