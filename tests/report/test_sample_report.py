"""reports/ holds the rendering of sample_images, and it is what the code renders now."""

from __future__ import annotations

import re
from pathlib import Path

import pandas as pd
import pytest

from auditor.analysis.rebuild import rebuild
from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.report.page import default_folder, write_report
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from auditor.store.tables import find_trip

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def rendered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("sample")
    logbook = place / "logbook.sqlite"
    (outcome,) = scan(logbook, [ROOT / "sample_images"], Settings())
    assert outcome.unreadable == []
    with open_logbook(logbook) as book:
        measure(book)
        rebuild(book, Settings())
        trip = find_trip(book, None)
        folder = place / default_folder(trip)
        write_report(book, folder, trip=trip)
    return folder


def scrubbed(text: str) -> str:
    """Without the line that holds date and version, and without measured numbers of the comparison.

    Another processor rounds pixels otherwise in the last place.
    """
    text = re.sub(r'<p id="made">.*?</p>', "", text)
    text = re.sub(r"blur \d+\.\d px", "blur N px", text)
    return re.sub(
        r'<h2 id="bare">.*?</ul>',
        lambda found: re.sub(r"[+-]?\d+(\.\d+)?", "N", found[0]),
        text,
        flags=re.DOTALL,
    )


def test_the_committed_page_is_what_the_code_renders(rendered: Path) -> None:
    committed = ROOT / "reports" / rendered.name / "report.html"
    assert scrubbed(committed.read_text(encoding="utf-8")) == scrubbed(
        (rendered / "report.html").read_text(encoding="utf-8")
    ), "run `make report` and look at what has changed"


@pytest.mark.parametrize("name", ["frames.csv", "kits.csv"])
def test_the_committed_tables_are_what_the_code_renders(rendered: Path, name: str) -> None:
    committed, now = (pd.read_csv(folder / name) for folder in (ROOT / "reports" / rendered.name, rendered))
    pd.testing.assert_frame_equal(committed, now, rtol=0.02)


def test_the_report_names_nothing_of_this_machine(rendered: Path) -> None:
    for path in rendered.iterdir():
        text = path.read_text(encoding="utf-8")
        assert str(ROOT) not in text
        assert str(Path.home()) not in text
