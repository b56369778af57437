"""Serving the desk on this machine until it is closed."""

from __future__ import annotations

import asyncio
import secrets
import socket
import time
from collections.abc import Callable

from auditor.desk.app import application
from auditor.desk.desk import Desk
from auditor.desk.guard import HOST, SECRET
from auditor.errors import OutputError

ANSWERS_END_WITHIN_S = 1
ENDS_WITHIN_S = 1.5
"""How long requests and work, at the same time, may take to end; what was done before is kept in any case."""
LOOKED_EVERY_S = 0.05


def serve(desk: Desk, *, port: int = 0, opened: Callable[[str], None]) -> None:
    """Serve the desk until its own button closes it, or Ctrl-C.

    Parameters
    ----------
    port
        0 for any that is free.
    opened
        Called with the address, which holds the key of this run, once it answers.

    Raises
    ------
    OutputError
        where the port is taken.
    """
    import uvicorn

    listening = _listening(port)
    real_port = listening.getsockname()[1]
    secret = secrets.token_urlsafe(24)
    app = application(desk, port=real_port, secret=secret)
    config = uvicorn.Config(
        app, log_level="error", access_log=False, lifespan="off", server_header=False,
        timeout_graceful_shutdown=ANSWERS_END_WITHIN_S,
    )  # fmt: skip
    server = uvicorn.Server(config)
    asked_at: float | None = None

    async def run() -> None:
        nonlocal asked_at
        serving = asyncio.create_task(server.serve(sockets=[listening]))
        while not server.started and not serving.done():
            await asyncio.sleep(0.01)
        if not serving.done():
            opened(f"http://{HOST}:{real_port}/?{SECRET}={secret}")
        while not serving.done():
            # Ctrl-C sets the one, the page's button the other; open pages are told to end by the second.
            desk.close_asked = server.should_exit = server.should_exit or desk.close_asked
            if desk.close_asked:
                desk.work.stop()
                asked_at = asked_at or time.monotonic()
            await asyncio.sleep(LOOKED_EVERY_S)
        await serving

    try:
        asyncio.run(run())
    finally:
        desk.close_asked = True
        desk.work.stop()
        desk.views.close()
        since_s = time.monotonic() - (asked_at or time.monotonic())
        desk.work.wait(max(0.0, ENDS_WITHIN_S - since_s))  # a decoder that hangs is ended with this process
        listening.close()


def _listening(port: int) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listening.bind((HOST, port))
    except OSError as error:
        listening.close()
        raise OutputError(f"Port {port} cannot be used ({error.strerror}). Leave out --port.") from error
    return listening
