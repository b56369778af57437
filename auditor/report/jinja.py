"""How templates are filled in, of pages and of the desk alike."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Environment


def environment(package: str, finalize: Callable[[Any], Any] | None = None) -> Environment:
    """An environment that escapes what it fills in, and refuses names that are not there.

    Parameters
    ----------
    package
        Whose `templates` are read.
    finalize
        Makes what is shown of each value.

    Returns
    -------
    jinja2.Environment
        To be kept: reading a template takes longer than filling it in.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader(package),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=finalize,
    )
