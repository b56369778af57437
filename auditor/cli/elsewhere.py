"""declare elsewhere: frames of a body that were kept on other media, so that gaps mean nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from auditor.cli import common
from auditor.cli.declare import AlwaysOption, BodyOption, FromOption, ToOption, span_said
from auditor.cli.declared import say_declared


def declare_elsewhere(
    body: BodyOption,
    trip: Annotated[
        str | None,
        typer.Option(
            "--trip", metavar="TRIP", help="One trip by name or number, instead of --from and --to."
        ),
    ] = None,
    from_: FromOption = None,
    to: ToOption = None,
    always: AlwaysOption = False,
    logbook: common.LogbookOption = None,
) -> None:
    """Frames of a body that are on another card or disk.

    Gaps in its file numbers then no longer count as frames deleted in camera.
    """
    from auditor.derive.declaring import declare
    from auditor.store.declared_facts import ElsewhereFacts, Said
    from auditor.store.trips import find_trip

    if not (trip or from_ or to or always):
        raise typer.BadParameter("give --trip, or --from and --to, or --always")
    statement = Said(facts=ElsewhereFacts(), body=body)
    if trip is None:
        from_at, to_at = span_said(from_, to, always)
        statement = replace(statement, from_at=from_at, to_at=to_at)
    elif from_ or to or always:
        raise typer.BadParameter("give --trip, or --from and --to, or --always")
    with common.reading(logbook) as book:
        if trip is not None:
            chosen = find_trip(book, trip)
            statement = replace(statement, from_at=chosen.first_at, to_at=chosen.last_at)
        number, effect = declare(book, common.settings_of(book.path), [statement])
    say_declared(number, effect, logbook)
