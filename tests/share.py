"""How many cases the long tests (faults put in, random input) try: a share, or all with `make test-long`."""

from __future__ import annotations

import os

WHOLE = os.environ.get("AUDITOR_LONG_TESTS") == "1"
"""Set by `pytest --whole`, before the tests are imported."""


def cases(whole: int, *, share: int) -> int:
    """How many cases a long test tries: `share` each time, `whole` when all is wanted."""
    return whole if WHOLE else share
