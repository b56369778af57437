"""What bodies are called where people read of them: by model, since few know their serial numbers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from auditor.frames.kit_names import is_named_by_files, shown_bodies, without_maker
from auditor.records import KitIdentity, KnownKit
from auditor.serials import NO_SERIAL


def body_names(kits: Iterable[KitIdentity]) -> dict[str, str]:
    """A name for each body, by the word that hints and declarations know it by.

    Parameters
    ----------
    kits
        All of the logbook, so that a name is the same whatever is selected.

    Returns
    -------
    dict[str, str]
        By serial number, or by model where no number is recorded: the model, with the number behind it where
        another body has the same model; the number alone where there is no model. Where one of two alike
        records no number, that is said behind its model, and the model alone stands for both.
    """
    serials: dict[str | None, set[str | None]] = defaultdict(set)
    for kit in kits:
        serials[kit.body_model].add(None if is_named_by_files(kit.body_serial) else kit.body_serial)
    names = {}
    for model, alike in serials.items():
        for serial in alike:
            if serial is None:
                if model is not None:
                    names[model] = model
                    if len(alike) > 1:
                        names[model + NO_SERIAL] = model + NO_SERIAL
            elif model is None:
                names[serial] = serial
            else:
                names[serial] = model if len(alike) == 1 else f"{model} ({serial})"
    return names


def words_by_name(kits: Iterable[KnownKit]) -> dict[str, set[str | None]]:
    """What declarations know the bodies by that tables, hints and declarations call by a name.

    Parameters
    ----------
    kits
        All of the logbook.

    Returns
    -------
    dict[str, set[str or None]]
        By the name in small letters: the serial numbers of bodies, or a model where that is all of its
        bodies, or with `NO_SERIAL` behind it one that records no number beside others of its model. None
        stands for a body that is told from others of its model by the names of its files alone.
    """
    known = list(kits)
    shown = shown_bodies(known)
    makers: dict[str, set[str | None]] = defaultdict(set)
    for kit in known:
        makers[(kit.body_model or "").casefold()].add(kit.body_make)
    words: dict[str, set[str | None]] = defaultdict(set)
    for kit in known:
        serial = None if is_named_by_files(kit.body_serial) else kit.body_serial
        model = kit.body_model if len(makers[(kit.body_model or "").casefold()]) == 1 else None
        stands_alone = shown[kit.kit_id].full == kit.body_model
        if model and kit.body_serial is None and not stands_alone:
            serial = model + NO_SERIAL
        for name in shown[kit.kit_id]:
            words[name.casefold()].add(model or serial if stands_alone else serial)
        if kit.body_model:
            words[without_maker(kit.body_make, kit.body_model).casefold()].add(model or serial)
    for word, name in body_names(known).items():
        words.setdefault(name.casefold(), {word})
    return dict(words)
