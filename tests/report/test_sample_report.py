"""reports/ holds the rendering of sample_images, and it is what the code renders now."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from auditor.report.write import default_folder, write_report
from auditor.store.logbook import open_logbook
from auditor.store.tables import find_trip

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def rendered(tmp_path_factory: pytest.TempPathFactory, measured_sample: Callable[[Path], Path]) -> Path:
    place = tmp_path_factory.mktemp("sample")
    with open_logbook(measured_sample(place)) as book:
        trip = find_trip(book, None)
        folder = place / default_folder(trip)
        write_report(book, folder, trip=trip, charting=False)  # as docs/sample_report.py does
    return folder


def scrubbed(text: str) -> str:
    """Without dates, versions, scripts, drawings and measured numbers.

    Another processor rounds pixels otherwise in the last place; another version of a library draws otherwise.
    """
    for pattern, instead in (
        (r'<p id="made">.*?</p>', ""),
        (r'(Content-Security-Policy" content=").*?"', r'\1"'),
        (r"<(style|script)\b([^>]*)>.*?</\1>", r"<\1\2></\1>"),
        (r'<svg[^>]* class="marks".*?</svg>', "<svg></svg>"),
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
        r'<h2 id="bare">.*?</ul>',
        lambda found: re.sub(r"[+-]?\d+(\.\d+)?", "N", found[0]),
        text,
        flags=re.DOTALL,
    )


def specs(page: str) -> dict[str, Any]:
    """The pictures of a page as what they are drawn from."""
    found = re.findall(r'<script type="application/json" id="spec-([^"]+)">(.*?)</script>', page, re.DOTALL)
    return {key: json.loads(text) for key, text in found}


def assert_alike(one: Any, other: Any, where: str = "") -> None:
    """The same structure and words, and numbers that differ by rounding of pixels alone."""
    assert type(one) is type(other) or {type(one), type(other)} <= {int, float}, where
    if isinstance(one, dict):
        assert one.keys() == other.keys(), where
        for key in one:
            assert_alike(one[key], other[key], f"{where}/{key}")
    elif isinstance(one, list):
        assert len(one) == len(other), where
        for place, (left, right) in enumerate(zip(one, other, strict=True)):
            assert_alike(left, right, f"{where}/{place}")
    elif isinstance(one, int | float) and not isinstance(one, bool):
        assert one == pytest.approx(other, rel=0.02, abs=1e-6), where
    elif isinstance(one, str):
        assert re.sub(r"\d+(\.\d+)?", "N", one) == re.sub(r"\d+(\.\d+)?", "N", other), where
    else:
        assert one == other, where


def test_the_committed_page_is_what_the_code_renders(rendered: Path) -> None:
    committed, now = (
        (folder / "report.html").read_text(encoding="utf-8")
        for folder in (ROOT / "reports" / rendered.name, rendered)
    )
    assert scrubbed(committed) == scrubbed(now), "run `make report` and look at what has changed"
    assert len(specs(now)) == 7
    assert_alike(specs(committed), specs(now))
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


def test_a_copy_without_the_charting_library_says_that_its_charts_are_static(rendered: Path) -> None:
    page = (rendered / "report.html").read_text(encoding="utf-8")
    assert "Charts in this copy are static" in page
    assert page.count('class="drawn"') == len(re.findall(r'<div class="drawn"[^>]*><svg', page)) == 7
    assert len(re.findall(r"<script>", page)) == 1
