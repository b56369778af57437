"""Why facts of frames are not known: a set of reasons stands once, and frames refer to it by its number.

Cameras leave out the same facts frame after frame, so a million frames have some hundred sets.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from auditor.store.logbook import Logbook

NONE = 0
"""The number of the set without reasons: frames have it from the start."""


def as_text(missing: Mapping[str, str]) -> str:
    """A set of reasons as it stands in the logbook.

    Parameters
    ----------
    missing
        Words of `MissingReason` by the facts that are not known.

    Returns
    -------
    str
        JSON, equal for equal sets.
    """
    return _text(tuple(missing.items()))


@lru_cache(maxsize=1000)
def _text(missing: tuple[tuple[str, str], ...]) -> str:
    return json.dumps(dict(missing), sort_keys=True)


def numbers(logbook: Logbook, texts: Iterable[str]) -> dict[str, int]:
    """The numbers of sets of reasons, new ones added; inside `writing()`.

    Parameters
    ----------
    texts
        As `as_text` gives them.

    Returns
    -------
    dict[str, int]
        By text.
    """
    found = {}
    for text in set(texts):
        known = logbook.query("SELECT reasons_id FROM reasons WHERE reasons = ?", (text,))
        found[text] = (
            known[0][0] if known else logbook.execute("INSERT INTO reasons (reasons) VALUES (?)", (text,))
        )
    return found


@lru_cache(maxsize=1000)
def no_serial_recorded(text: str) -> str:
    """A set of reasons with one more: that no serial number is recorded; for migrations.

    Parameters
    ----------
    text
        As it stands in the logbook.

    Returns
    -------
    str
        The same way.
    """
    return as_text({**json.loads(text), "body_serial": "not_recorded"})
