"""A lens whose name is markup, opened in a browser: text, and nothing runs."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.report.write import write_report
from auditor.store.logbook import open_logbook
from tests.browser.conftest import OpenPage
from tests.report.test_hostile_text import NAMES, logbook_with


@pytest.mark.parametrize("kind", ["script", "end of script", "quotes", "template", "long"])
def test_a_hostile_lens_name_is_text(opened: OpenPage, tmp_path: Path, kind: str) -> None:
    with open_logbook(logbook_with(tmp_path, NAMES[kind])) as book:
        path = write_report(book, tmp_path / "out", trip=None)
    page = opened(path, viewport={"width": 360, "height": 760})
    assert page.evaluate(
        "window.pwned === undefined && document.querySelector('img:not(.area > img)') === null"
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    start = NAMES[kind][:20].split("\u2028")[0]
    name = page.locator("section[aria-labelledby=kits] tbody th").first.text_content() or ""
    assert start in name
    page.locator(".more summary").click()
    mark = page.locator("#shutter .tells:visible").first
    mark.scroll_into_view_if_needed()
    mark.hover()
    line = page.locator("#shutter .told span")
    assert start[:6] in line.inner_text()  # a long name is cut in its middle
    assert line.locator("*").count() == 0
