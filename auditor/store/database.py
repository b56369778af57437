"""sqlite-utils as the logbook uses it, without the pandas that it would load for its types alone.

Loading pandas takes longer than most commands need for their answer, and nothing is ever written through it.
"""

from __future__ import annotations

import sys

_unloaded = "pandas" not in sys.modules
if _unloaded:
    # None in sys.modules makes an import fail, for which sqlite-utils is prepared (Python reference 5.3.1).
    sys.modules["pandas"] = None  # type: ignore[assignment]
try:
    from sqlite_utils import Database
    from sqlite_utils.migrations import Migrations
finally:
    if _unloaded:
        del sys.modules["pandas"]

__all__ = ["Database", "Migrations"]
