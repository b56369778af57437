"""The report of the sample trip in a real browser, with the network off.

Without Playwright or Chromium these tests are skipped; .ci/run installs both. `AUDITOR_CHROMIUM` names
another browser of that family; `AUDITOR_AXE` the file axe.min.js.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from auditor.report.write import write_report
from auditor.store.logbook import open_logbook
from auditor.store.trips import find_trip

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from tests.windows import Windows

OpenPage = Callable[..., "Page"]


@pytest.fixture(scope="session")
def logbook(tmp_path_factory: pytest.TempPathFactory, measured_sample: Callable[[Path], Path]) -> Path:
    return measured_sample(tmp_path_factory.mktemp("browser"))


@pytest.fixture(scope="session")
def report(logbook: Path) -> Path:
    with open_logbook(logbook) as book:
        return write_report(book, logbook.parent / "report", trip=find_trip(book, None))


@pytest.fixture
def opened(windows: Windows) -> Iterator[OpenPage]:
    """Opens a file; what it asks the network for or says on the console fails the test at its end."""

    def open_page(path: Path, **options: Any) -> Page:
        page = windows.lend(offline=True, **{"viewport": {"width": 1100, "height": 900}, **options})
        page.goto(path.as_uri())
        return page

    yield open_page
    allowed = ("request: file:", "request: data:", "request: about:blank")
    assert [each for each in windows.take_back() if not each.startswith(allowed)] == []


@pytest.fixture
def page(opened: OpenPage, report: Path) -> Page:
    """The report."""
    return opened(report)
