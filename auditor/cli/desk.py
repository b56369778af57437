"""desk: the logbook in the browser, on this machine only."""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated

import typer

from auditor.cli import common


def desk(
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Only print the address; do not open a browser.")
    ] = False,
    port: Annotated[
        int,
        typer.Option("--port", metavar="N", min=0, max=65535, help="Port to listen on; 0 takes a free one."),
    ] = 0,
    logbook: common.LogbookOption = None,
    quiet: common.QuietOption = False,
    jobs: common.JobsOption = None,
) -> None:
    """Open the logbook in the browser: read a card, choose keepers by eye, hand them over.

    Only this machine can reach it. It ends with its Close button or Ctrl-C.
    """
    import webbrowser

    from auditor.desk.desk import Desk
    from auditor.desk.serving import serve
    from auditor.jobs import workers
    from auditor.jobs.cards import refuse_among_pictures
    from auditor.jobs.opening import up_to_date
    from auditor.report.text.desk import CLOSED
    from auditor.store.logbook import open_logbook

    path = common.logbook_path(logbook)
    if not path.exists():
        refuse_among_pictures(path)
        with open_logbook(path, create=True):
            common.say(f"A new logbook: {path}", quiet)
    with up_to_date(path):  # what is wrong with it is said here, not on a page
        common.say(f"Logbook: {path}", quiet)

    def opened(address: str) -> None:
        print(address, flush=True)
        common.say("The desk is open. To end it: its Close button, or Ctrl-C here.", quiet)
        if not no_browser:
            webbrowser.open(address)

    with suppress(KeyboardInterrupt):  # the other way to end it, beside its button
        serve(Desk(path, jobs=jobs or workers.default_jobs()), port=port, opened=opened)
    common.say(CLOSED, quiet)


COMMANDS = (desk,)
