"""Options that several commands share, declared once: a command takes them as one object."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable
from typing import Any


def with_group(
    command: Callable[..., Any], name: str, group: Callable[..., Any], *, last: bool = False
) -> Callable[..., Any]:
    """Give a command the options of a group; it gets what the group makes of them under one name.

    Parameters
    ----------
    command
        Takes `name` among its parameters.
    name
        Of the parameter that the options of the group stand for.
    group
        A dataclass or a function whose parameters are Typer's options.
    last
        Show them behind the command's own options, not before.

    Returns
    -------
    Callable
        The same command, as Typer reads it.
    """
    own_parameters = dict(inspect.signature(command, eval_str=True).parameters)
    shared = inspect.signature(group, eval_str=True).parameters
    del own_parameters[name]

    @functools.wraps(command)
    def wrapper(**given: Any) -> Any:
        group_value = group(**{option: given.pop(option) for option in shared})
        return command(**{name: group_value}, **given)

    order = (own_parameters, shared) if last else (shared, own_parameters)
    together = [
        parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY)
        for parameters in order
        for parameter in parameters.values()
    ]
    del wrapper.__wrapped__  # its signature is the one below
    wrapper.__signature__ = inspect.Signature(together)  # type: ignore[attr-defined]  # Typer reads it
    wrapper.__annotations__ = {parameter.name: parameter.annotation for parameter in together}
    return wrapper
