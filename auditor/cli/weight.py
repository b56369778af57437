"""declare weight: what a body, a lens or a converter weighs, for planning."""

from __future__ import annotations

from typing import Annotated

import typer

from auditor.cli import common
from auditor.cli.declared import say_declared


def declare_weight(
    weight: Annotated[str, typer.Argument(metavar="WEIGHT", help='Such as "850 g" or "3.2 kg".')],
    body: Annotated[
        str | None, typer.Option("--body", metavar="BODY", help="The body, by its name as tables show it.")
    ] = None,
    lens: Annotated[
        str | None,
        typer.Option("--lens", metavar="LENS", help="The lens: its name, or a part of it that no other has."),
    ] = None,
    factor: Annotated[
        float | None,
        typer.Option("--converter", metavar="FACTOR", min=1.0, max=3.0, help="The converter: 1.4, 2 ..."),
    ] = None,
    logbook: common.LogbookOption = None,
) -> None:
    """What a body, a lens or a converter weighs.

    auditor plan adds the weights up.
    """
    from auditor.derive.declaring import declare
    from auditor.derive.lenses import lens_named
    from auditor.planning.gear import parse_weight_g
    from auditor.store.declared_facts import Said, WeightFacts

    if sum(given is not None for given in (body, lens, factor)) != 1:
        raise typer.BadParameter("give one of the three", param_hint="--body, --lens and --converter")
    try:
        weight_g = parse_weight_g(weight)
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="WEIGHT") from error
    with common.reading(logbook) as book:
        facts = WeightFacts(
            weight_g=weight_g,
            lens=None if lens is None else lens_named(book, lens),
            converter_factor=factor,
        )
        number, effect = declare(book, common.settings_of(book.path), [Said(facts=facts, body=body)])
    say_declared(number, effect, logbook)
