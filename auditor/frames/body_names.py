"""What bodies are called where people read of them: by model, since few know their serial numbers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from auditor.frames.kit_names import is_named_by_files
from auditor.records import KitIdentity


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
        another body has the same model; the number alone where there is no model.
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
            elif model is None:
                names[serial] = serial
            else:
                names[serial] = model if len(alike) == 1 else f"{model} ({serial})"
    return names
