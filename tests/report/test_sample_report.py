"""reports/ holds the rendering of sample_images, and it is what the code renders now."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from auditor.report.write import default_folder, write_report
from auditor.store.logbook import open_logbook
from auditor.store.trips import find_trip

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def rendered(tmp_path_factory: pytest.TempPathFactory, measured_sample: Callable[[Path], Path]) -> Path:
    place = tmp_path_factory.mktemp("sample")
    with open_logbook(measured_sample(place)) as book:
        trip = find_trip(book, None)
        folder = place / default_folder(trip)
        write_report(book, folder, trip=trip)  # as docs/sample_report.py does
    return folder


def scrubbed(text: str) -> str:
    """Without dates, versions, scripts, drawings and measured numbers.

    Another processor rounds pixels otherwise in the last place; another version of a library draws otherwise.
    """
    for pattern, instead in (
        (r'<p id="made">.*?</p>', ""),
        (r'(Content-Security-Policy" content=").*?"', r'\1"'),
        (r"<(style|script)\b([^>]*)>.*?</\1>", r"<\1\2></\1>"),
        (r'<svg class="(drawing|loss|interval)\b.*?</svg>', "<svg></svg>"),
        (r"data:image/jpeg;base64,[^\"]+", "data:"),
        (r'<rect class="outline[^>]*>', "<rect>"),
        (r'(data-blur|data-value)="[\d.e-]*"', r'\1="N"'),
        (r'(data-label="System blur, microradians" data-value="N">)[\d.]+', r"\1N"),
        (r"blur \d+\.\d px", "blur N px"),
        (r"\d+(\.\d+)? microradians \(\d+(\.\d+)? (px|to \d+(\.\d+)?)\)", "N microradians"),
        (r"\d+\.\d+ grey levels \(.*?\)", "N grey levels"),
    ):
        text = re.sub(pattern, instead, text, flags=re.DOTALL)
    return re.sub(
        r'<ul class="cards">.*?</ul>',
        lambda found: re.sub(r"[+-]?\d+(\.\d+)?", "N", found[0]),
        text,
        flags=re.DOTALL,
    )


def drawings(page: str) -> dict[str, str]:
    """The pictures of a page by the id of their title, without measured numbers and where these put marks."""
    found = re.findall(r'<svg class="drawing.*?</svg>', page, re.DOTALL)
    return {re.findall(r'<title id="(.*?)-title"', svg)[0]: _without_numbers(svg) for svg in found}


def _without_numbers(svg: str) -> str:
    svg = re.sub(r' d="[^"]*"', "", svg)
    svg = re.sub(r'<line class="miss"[^>]*>', "", svg)
    return re.sub(r"-?\d+(\.\d+)?", "N", svg)


def test_the_committed_page_is_what_the_code_renders(rendered: Path) -> None:
    committed, now = (
        (folder / "report.html").read_text(encoding="utf-8")
        for folder in (ROOT / "reports" / rendered.name, rendered)
    )
    assert scrubbed(committed) == scrubbed(now), "run `make report` and look at what has changed"
    assert drawings(committed) == drawings(now)
    assert len({key.split("-")[0] for key in drawings(now)}) >= 6
    assert len(committed) < 1_000_000


@pytest.mark.parametrize("name", ["frames.csv", "kits.csv"])
def test_the_committed_tables_are_what_the_code_renders(rendered: Path, name: str) -> None:
    committed, now = (pd.read_csv(folder / name) for folder in (ROOT / "reports" / rendered.name, rendered))
    pd.testing.assert_frame_equal(committed, now, rtol=0.02)


def test_the_report_names_nothing_of_this_machine(rendered: Path) -> None:
    for path in rendered.iterdir():
        text = path.read_text(encoding="utf-8")
        assert str(ROOT) not in text
        assert str(Path.home()) not in text
