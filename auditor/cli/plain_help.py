"""Help that shows the words of a command line, and no types of Python."""

from __future__ import annotations

import typer
from typer.core import TyperArgument, TyperCommand


class PlainHelp(TyperCommand):
    """A command whose help says FOLDER, where Typer says `{FOLDER}` and `FOLDER <list[Path]>`."""

    def collect_usage_pieces(self, ctx: typer.Context) -> list[str]:  # type: ignore[override]
        """The words of the usage line.

        Parameters
        ----------
        ctx : typer.Context
            Of the command.

        Returns
        -------
        list of str
            Such as "[OPTIONS]" and "FOLDER...".
        """
        return [piece.replace("{", "").replace("}", "") for piece in super().collect_usage_pieces(ctx)]

    def get_params(self, ctx: typer.Context) -> list:  # type: ignore[override,type-arg]
        """The parameters, of which arguments tell no type.

        Parameters
        ----------
        ctx : typer.Context
            Of the command.

        Returns
        -------
        list of click parameters
        """
        params = super().get_params(ctx)
        for param in params:
            if isinstance(param, TyperArgument):
                # Typer has no option for this; the metavar already says what is meant.
                setattr(param, "display_type_rich", lambda ctx: None)  # noqa: B010
        return params


def show_plainly(app: typer.Typer) -> None:
    """Give every command of an app, and of the apps below it, this help.

    Parameters
    ----------
    app : typer.Typer
        With all its commands registered.
    """
    for command in app.registered_commands:
        command.cls = PlainHelp
    for group in app.registered_groups:
        if group.typer_instance is not None:
            show_plainly(group.typer_instance)
