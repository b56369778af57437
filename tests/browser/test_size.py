"""How long the folded page is and how much it says, of the sample and of trips of 500 frames."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from auditor.report.write import write_report
from auditor.store.logbook import open_logbook
from auditor.store.trips import find_trip
from benchmarks.simulated_logbook import KITS
from tests.browser.conftest import OpenPage
from tests.browser.sized_trips import TWELVE, write_trip

if TYPE_CHECKING:
    from playwright.sync_api import Page

SCREENS = pytest.mark.parametrize(("width", "height", "most"), [(1440, 900, 10), (390, 844, 20)])
MOST_BEFORE_A_PHOTOGRAPH, MOST_ABOVE_THE_METHOD = 600, 1200
MOST_BYTES = 8_000_000
"""Most of it is pictures: some 200 focus areas of 25 kB, and as many whole frames."""
MOST_SHEETS = 6


@pytest.fixture(scope="module", params=[KITS, TWELVE], ids=["six kits", "twelve kits of long names"])
def page_of_500_frames(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sized")
    frames = write_trip(folder / "logbook.sqlite", request.param)
    assert 500 < frames < 700
    with open_logbook(folder / "logbook.sqlite") as book:
        return write_report(book, folder / "report", trip=find_trip(book, None), formats=["html"])


@SCREENS
def test_the_folded_page_of_the_sample_is_short(
    opened: OpenPage, report: Path, width: int, height: int, most: int
) -> None:
    is_short(opened(report, viewport={"width": width, "height": height}), height, most)


@SCREENS
def test_the_folded_page_of_500_frames_is_short(
    opened: OpenPage, page_of_500_frames: Path, width: int, height: int, most: int
) -> None:
    page = opened(page_of_500_frames, viewport={"width": width, "height": height})
    assert page.locator(".wall img:visible").count() == 24  # twelve to look at, and twelve of the best
    assert page.locator(".pair img").count() == 2
    is_short(page, height, most)


def test_the_page_of_500_frames_is_light_and_fits_six_sheets(
    opened: OpenPage, page_of_500_frames: Path
) -> None:
    assert page_of_500_frames.stat().st_size < MOST_BYTES
    paper = opened(page_of_500_frames).pdf(format="A4")
    assert 0 < len(re.findall(rb"/Type\s*/Page\b", paper)) <= MOST_SHEETS


@pytest.mark.parametrize("touch", [False, True])
def test_of_many_kits_cards_show_their_answer_and_open_by_keys_and_touch(
    opened: OpenPage, page_of_500_frames: Path, touch: bool
) -> None:
    page = opened(page_of_500_frames, viewport={"width": 390, "height": 844}, has_touch=touch)
    cards = page.locator(".cards > li")
    assert cards.count() in (len(KITS), len(TWELVE))
    folded = cards.count() == len(TWELVE)
    assert page.locator(".cards .card").count() == (cards.count() if folded else 0)
    last = cards.last
    assert last.locator("dl").is_visible() is not folded
    if folded:
        assert last.locator("strong").is_visible()
        summary = last.locator(".card > summary")
        if touch:
            summary.tap()
        else:
            summary.focus()
            page.keyboard.press("Enter")
        assert last.locator("dl").is_visible()


def is_short(page: Page, height: int, most: int) -> None:
    assert page.evaluate("document.documentElement.scrollHeight") <= most * height
    before, above = page.evaluate(WORDS)
    assert 100 < before < MOST_BEFORE_A_PHOTOGRAPH
    assert before < above < MOST_ABOVE_THE_METHOD


WORDS = """
() => {
  const method = document.getElementById("method");
  const photograph = Array.from(document.querySelectorAll("img, image")).find((one) => one.checkVisibility());
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const words = [0, 0];
  while (texts.nextNode()) {
    const text = texts.currentNode;
    const around = text.parentElement;
    if (around.closest("script, style, noscript, select, svg") || !around.checkVisibility()) continue;
    if (around.getBoundingClientRect().right < 0) continue;  // for screen readers alone
    const number = text.textContent.trim().split(/\\s+/).filter(Boolean).length;
    [photograph, method].forEach((end, which) => {
      const follows = text.compareDocumentPosition(end) & Node.DOCUMENT_POSITION_FOLLOWING;
      words[which] += follows ? number : 0;
    });
  }
  return words;
}
"""
"""Words that can be seen before the first photograph, and above the method."""
