"""Render the measured sample trip into reports/: `make report`."""

from __future__ import annotations

from pathlib import Path

from auditor.derive.rebuild import rebuild
from auditor.report.write import default_folder, write_report
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from auditor.store.trips import find_trip

LOGBOOK = Path("build") / "sample" / "logbook.sqlite"


def main() -> None:
    """Write the page and its tables anew."""
    with open_logbook(LOGBOOK) as book:
        rebuild(book, Settings())
        trip = find_trip(book, None)
        print(write_report(book, default_folder(trip), trip=trip))


if __name__ == "__main__":
    main()
